; loader.asm without RUNAT: every address in the moved parts is worked out by hand. The same image.
        CAPACITY 2K
        RAM 8K, AT 8000H
work    EQU 8000H
tables  EQU 9000H
result  EQU 8800H
m1      EQU work-part1          ; what a label in part 1 moves by
m2      EQU tables-part2
        ORG 0
        DI
        LD SP,0A000H
        LD HL,part1
        LD DE,work
        LD BC,e1-part1
        LDIR
        LD HL,part2
        LD DE,tables
        LD BC,e2-part2
        LDIR
        CALL check
        JP work
check:  LD HL,work
        LD B,LOW (e1-part1)
        XOR A
sum:    ADD A,(HL)
        INC HL
        DJNZ sum
        LD (result),A
        RET
part1:  XOR A
        OUT (0),A
loop:   LD HL,tables
        LD B,5
each:   LD E,(HL)
        INC HL
        LD D,(HL)
        INC HL
        PUSH HL
        PUSH BC
        LD HL,back+m1
        PUSH HL
        EX DE,HL
        JP (HL)
back:   POP BC
        POP HL
        DJNZ each
        LD A,(result)
        OR A
        JR NZ,loop
        JP loop+m1
on:     LD A,1
        JR lamp
off:    XOR A
lamp:   OUT (10H),A
        LD BC,500
lap:    DEC BC
        LD A,B
        OR C
        JR NZ,lap
        RET
here:   DEFW here+m1,here+m1,lamp-part1
e1:
part2:  DEFW on+m1,off+m1,on+m1,on+m1,off+m1
names:  DEFB 'on',0,'off',0
e2:     DEFW part1,e1,part2,e2
end2:   DEFW names+m2,end2   ; $ is the address of its own statement
