; turnout.asm without macros: the same image.
        CAPACITY 1K
        RAM 256, AT 4000H
coils   EQU 30H
        ORG 0
        DI
        LD SP,4100H
        JP main
        ORG 20H
hold:   PUSH BC
        PUSH DE
        PUSH HL
        LD C,40
hold1:  LD B,250
hold2:  NOP
        DJNZ hold2
        DEC C
        JR NZ,hold1
        POP HL
        POP DE
        POP BC
        RET
main:   LD A,00000001B
        OUT (coils),A
        CALL hold
        XOR A
        OUT (coils),A
        LD A,00001000B
        OUT (coils),A
        CALL hold
        XOR A
        OUT (coils),A
        LD A,00010000B
        OUT (coils),A
        CALL hold
        XOR A
        OUT (coils),A
loop:   IN A,(31H)
        CP 41H
        JP Z,set_a
        CP 42H
        JP Z,set_b
        CP 43H
        JP Z,set_c
        JR loop
set_a:  LD HL,route_a
        JR set
set_b:  LD HL,route_b
        JR set
set_c:  LD HL,route_c
set:    INC HL
        LD B,(HL)
each:   INC HL
        LD A,(HL)
        OUT (coils),A
        PUSH AF
        PUSH BC
        PUSH HL
        LD C,80
wait1:  LD B,250
wait2:  NOP
        DJNZ wait2
        DEC C
        JR NZ,wait1
        POP HL
        POP BC
        POP AF
        DJNZ each
        LD C,1
wait3:  LD B,250
wait4:  NOP
        DJNZ wait4
        DEC C
        JR NZ,wait3
        LD C,1
wait5:  LD B,250
wait6:  NOP
        DJNZ wait6
        DEC C
        JR NZ,wait5
        JP loop
route_a: DEFB 41H,3,1,4,10H
route_b: DEFB 42H,2,2,8
route_c: DEFB 43H,4,1,8,20H,40H
        DEFB 1,2,4,8,16,32,64,128
        DEFB 0,8,4,12,2,10,6,14,1,9,5,13,3,11,7,15
        DEFB 16
