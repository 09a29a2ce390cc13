; Station clock: counts interrupts of the mains, 50 a second, in packed decimal,
; and switches the platform lamps on and off at the times of a table.
; Written with locals and EQUs that refer forward.

        CAPACITY 32K, AT 0, COPIES 1
        RAM 8K, AT 8000H

DIGITS  EQU BASE+0      ; four ports, one a digit
LAMP    EQU BASE+4
BUTTON  EQU BASE+5
BASE    EQU 60H

        ORG 0
        LD SP,TOP
        JR INIT

        ORG 38H
        EX AF,AF'
        EXX
        CALL SECOND
        EXX
        EX AF,AF'
        EI
        RET

INIT:   IM 1
        LD HL,FIFTY
        LD B,TIMELEN
        XOR A
.clear: LD (HL),A
        INC HL
        DJNZ .clear
        LD A,12H
        LD (HOURS),A
        EI
IDLE:   HALT
        CALL DISPLAY
        CALL LOOKUP
        IN A,(BUTTON)
        BIT 0,A
        CALL Z,SETHOUR
        BIT 1,A
        CALL Z,SETMIN
        JR IDLE

; one interrupt: fiftieths, seconds, minutes, hours
SECOND: LD HL,FIFTY
        INC (HL)
        LD A,(HL)
        CP 50
        RET NZ
        LD (HL),0
        LD HL,SECS
        LD C,60H
        CALL BUMP
        RET NZ
MINUTE: LD HL,MINS
        LD C,60H
        CALL BUMP
        RET NZ
HOUR:   LD HL,HOURS
        LD C,24H
; add one to the decimal (HL), back to 0 at C; Z if it went back
BUMP:   LD A,(HL)
        ADD A,1
        DAA
        LD (HL),A
        CP C
        RET NZ
        XOR A
        LD (HL),A
        RET

SETHOUR:
        PUSH AF
        CALL HOUR
        JR SETMIN.out
SETMIN: PUSH AF
        CALL MINUTE
.out:   CALL DISPLAY
        LD DE,0
.wait:  DEC DE
        LD A,D
        OR E
        JP NZ,.wait
        POP AF
        RET

DISPLAY:
        LD IX,HOURS
        LD C,DIGITS
        LD A,(IX+0)
        CALL .two
        LD A,(IX+MINS-HOURS)
.two:   LD B,A
        RRCA
        RRCA
        RRCA
        RRCA
        CALL .one
        LD A,B
.one:   AND 15
        LD HL,FONT
        LD E,A
        LD D,0
        ADD HL,DE
        LD A,(HL)
        OUT (C),A
        INC C
        RET

; the table has hour, minute, lamp pattern; ends with 0FFH
LOOKUP: LD HL,TABLE
        LD DE,(MINS)            ; E = minutes, D = hours
.next:  LD A,(HL)
        INC A
        RET Z
        DEC A
        CP D
        JR NZ,.no
        INC HL
        LD A,(HL)
        DEC HL
        CP E
        JR NZ,.no
        INC HL
        INC HL
        LD A,(HL)
        OUT (LAMP),A
        RET
.no:    INC HL
        INC HL
        INC HL
        JR .next

FONT:   DEFB 3FH,06H,5BH,4FH,66H,6DH,7DH,07H,7FH,6FH
        DEFB 0,0,0,0,0,0
TABLE:  DEFB 05H,00H,0FFH
        DEFB 07H,30H,11110000B
        DEFB 17H,00H,0FFH
        DEFB 22H,30H,10000001B
        DEFB 23H,59H,0
        DEFB 0FFH
        REQUIRE TABLE-FONT = 16
        REQUIRE HOURS = MINS+1, "read as one word"

        ORG 8000H
FIFTY:  DEFS 1
SECS:   DEFS 1
MINS:   DEFS 1
HOURS:  DEFS 1
TIMELEN EQU $-FIFTY
        DEFS 60
TOP     EQU $
