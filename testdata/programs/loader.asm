; Copies its working part into RAM and runs it there, so that the chip can be
; switched off. Written with RUNAT; loader-flat.asm does the sums by hand.
        CAPACITY 2K
        RAM 8K, AT 8000H

        ORG 0
        DI
        LD SP,0A000H
        LD HL,part1
        LD DE,work
        LD BC,part1_end-part1
        LDIR
        LD HL,part2
        LD DE,tables
        LD BC,part2_end-part2
        LDIR
        CALL check              ; still in ROM
        JP work

check:  LD HL,work
        LD B,LOW (part1_end-part1)
        XOR A
.sum:   ADD A,(HL)
        INC HL
        DJNZ .sum
        LD (result),A
        RET

part1:
        RUNAT 8000H
work:   XOR A
        OUT (0),A               ; the chip is off
.loop:  LD HL,tables
        LD B,tables_len
.each:  LD E,(HL)
        INC HL
        LD D,(HL)
        INC HL
        PUSH HL
        PUSH BC
        LD HL,.back
        PUSH HL
        EX DE,HL
        JP (HL)
.back:  POP BC
        POP HL
        DJNZ .each
        LD A,(result)
        OR A
        JR NZ,.loop
        JP .loop

lamp_on:
        LD A,1
        JR lamp
lamp_off:
        XOR A
lamp:   OUT (10H),A
        LD BC,500
lap:    DEC BC
        LD A,B
        OR C
        JR NZ,lap
lap_end: RET
here:   DEFW here,$,lamp-work
        ENDRUNAT
part1_end:

part2:
        RUNAT 9000H
tables: DEFW lamp_on,lamp_off
        DEFW lamp_on,lamp_on
        DEFW lamp_off
tables_len EQU ($-tables)/2
names:  DEFM 'on',0,'off',0
        ENDRUNAT
part2_end:
        DEFW part1,part1_end,part2,part2_end
        DEFW names,$
        REQUIRE LAP(lap,lap_end) = 26

        ORG 8800H
result: DEFS 1
