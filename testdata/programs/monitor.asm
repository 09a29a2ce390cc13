; options: --capacity 8K --skip title,page,.z80
        TITLE   MONITOR FOR THE YARD CONTROLLER, DON'T RUSH
        .Z80
; A SMALL MONITOR: EXAMINE, CHANGE, DUMP, FILL, GO, IN, OUT
; SERIAL LINE BY SOFTWARE, NO PARITY. COLONLESS LABELS AS OF OLD.

LINE    EQU     20H             ;BIT 7 IN, BIT 0 OUT
CR      EQU     0DH
LF      EQU     0AH
BS      EQU     08H
ESC     EQU     1BH
RAM0    EQU     8000H
BUFLEN  EQU     40
BITTIM  EQU     51              ;LAPS A BIT

        ORG     0
        JP      COLD
        DEFS    8-$
        JP      COUT            ;RST 8 PRINTS A
        DEFS    10H-$
        JP      PRINT           ;RST 10H PRINTS THE TEXT AT HL
        DEFS    18H-$
        JP      WARM
        PAGE
COLD    LD      SP,STACK
        LD      HL,BUFFER
        LD      DE,BUFFER+1
        LD      BC,BUFLEN-1
        LD      (HL),' '
        LDIR
        LD      HL,HELLO
        RST     10H
WARM    LD      SP,STACK
        LD      HL,PROMPT
        RST     10H
        CALL    GETLIN
        LD      HL,BUFFER
        CALL    SKIPSP
        LD      A,(HL)
        OR      A
        JR      Z,WARM
        INC     HL
        LD      (CURSOR),HL
;LOOK THE LETTER UP
        LD      B,NCMD
        LD      HL,CMDTAB
LOOK    CP      (HL)
        INC     HL
        JR      Z,FOUND
        INC     HL
        INC     HL
        DJNZ    LOOK
ERROR   LD      HL,WHAT
        RST     10H
        JR      WARM
FOUND   LD      E,(HL)
        INC     HL
        LD      D,(HL)
        LD      HL,WARM
        PUSH    HL              ;COMMANDS RETURN TO WARM
        EX      DE,HL
        JP      (HL)

CMDTAB  DEFB    'D'
        DEFW    DUMP
        DEFB    'E'
        DEFW    EXAM
        DEFB    'F'
        DEFW    FILL
        DEFB    'G'
        DEFW    GO
        DEFB    'I'
        DEFW    INPUT
        DEFB    'O'
        DEFW    OUTPUT
        DEFB    '?'
        DEFW    HELP
NCMD    EQU     ($-CMDTAB)/3
        PAGE    66
;DUMP FROM,TO
DUMP    CALL    TWOARG
DUMP1   CALL    NEWLIN
        CALL    HEXHL
        LD      B,10H
DUMP2   CALL    SPACE
        LD      A,(HL)
        CALL    HEXA
        CALL    ATEND
        RET     Z
        INC     HL
        DJNZ    DUMP2
        JR      DUMP1

ATEND   PUSH    HL
        OR      A
        SBC     HL,DE
        POP     HL
        RET

EXAM    CALL    HEXIN
EXAM1   CALL    NEWLIN
        CALL    HEXHL
        CALL    SPACE
        LD      A,(HL)
        CALL    HEXA
        PUSH    HL
        CALL    SPACE
        CALL    GETLIN
        LD      HL,BUFFER
        LD      A,(HL)
        CP      '.'
        JR      Z,EXAM3
        OR      A
        JR      Z,EXAM2
        LD      (CURSOR),HL
        CALL    HEXIN
        LD      A,L
        POP     HL
        LD      (HL),A
        PUSH    HL
EXAM2   POP     HL
        INC     HL
        JR      EXAM1
EXAM3   POP     HL
        RET

FILL    CALL    TWOARG
        PUSH    HL
        CALL    HEXIN
        LD      C,L
        POP     HL
FILL1   LD      (HL),C
        CALL    ATEND
        RET     Z
        INC     HL
        JR      FILL1

GO      CALL    HEXIN
        JP      (HL)

INPUT   CALL    HEXIN
        LD      C,L
        IN      A,(C)
        CALL    SPACE
        JP      HEXA

OUTPUT  CALL    TWOARG
        LD      C,L
        OUT     (C),E
        RET

HELP    LD      HL,HELPTX
        JP      PRINT

TWOARG  CALL    HEXIN
        PUSH    HL
        CALL    HEXIN
        EX      DE,HL
        POP     HL
        RET
;READ A NUMBER AT CURSOR INTO HL
HEXIN   LD      HL,(CURSOR)
        CALL    SKIPSP
        EX      DE,HL
        LD      HL,0
HEXIN1  LD      A,(DE)
        CALL    HEXDIG
        JR      C,HEXIN2
        INC     DE
        ADD     HL,HL
        ADD     HL,HL
        ADD     HL,HL
        ADD     HL,HL
        OR      L
        LD      L,A
        JR      HEXIN1
HEXIN2  LD      (CURSOR),DE
        RET
;CARRY IF NO HEX DIGIT
HEXDIG  SUB     '0'
        RET     C
        CP      10
        CCF
        RET     NC
        SUB     'A'-'0'-10
        CP      10
        RET     C
        CP      16
        CCF
        RET

SKIPSP  LD      A,(HL)
        CP      ' '
        RET     NZ
        INC     HL
        JR      SKIPSP

HEXHL   LD      A,H
        CALL    HEXA
        LD      A,L
HEXA    PUSH    AF
        RRCA
        RRCA
        RRCA
        RRCA
        CALL    HEX1
        POP     AF
HEX1    AND     0FH
        ADD     A,90H
        DAA
        ADC     A,40H
        DAA
        JR      COUT
SPACE   LD      A,' '
        JR      COUT
NEWLIN  LD      A,CR
        CALL    COUT
        LD      A,LF
;PRINT A BY SOFTWARE: START BIT, EIGHT BITS, TWO STOP BITS
COUT    PUSH    BC
        PUSH    AF
        LD      C,A
        LD      B,8
        XOR     A
        OUT     (LINE),A
        CALL    BITDLY
COUT1   LD      A,C
        AND     1
        OUT     (LINE),A
        CALL    BITDLY
        RRC     C
        DJNZ    COUT1
        LD      A,1
        OUT     (LINE),A
        CALL    BITDLY
        CALL    BITDLY
        POP     AF
        POP     BC
        RET
CIN     IN      A,(LINE)
        RLA
        JR      C,CIN           ;START BIT IS LOW
        PUSH    BC
        CALL    HALF
        LD      BC,800H
CIN1    CALL    BITDLY
        IN      A,(LINE)
        RLA
        RR      C
        DJNZ    CIN1
        CALL    BITDLY
        LD      A,C
        AND     7FH
        POP     BC
        RET
BITDLY  PUSH    BC
        LD      B,BITTIM
BIT1    DJNZ    BIT1
        POP     BC
        RET
HALF    PUSH    BC
        LD      B,BITTIM/2
        JR      BIT1
PRINT   LD      A,(HL)
        AND     7FH
        CALL    COUT
        BIT     7,(HL)          ;THE LAST LETTER HAS BIT 7 SET
        RET     NZ
        INC     HL
        JR      PRINT
GETLIN  LD      HL,BUFFER
        LD      B,0
GETL1   CALL    CIN
        CP      CR
        JR      Z,GETL3
        CP      ESC
        JP      Z,WARM
        CP      BS
        JR      Z,GETL2
        LD      C,A
        LD      A,B
        CP      BUFLEN-1
        JR      NC,GETL1
        LD      A,C
        CALL    UPPER
        LD      (HL),A
        INC     HL
        INC     B
        CALL    COUT
        JR      GETL1
GETL2   LD      A,B
        OR      A
        JR      Z,GETL1
        DEC     B
        DEC     HL
        LD      A,BS
        CALL    COUT
        JR      GETL1
GETL3   LD      (HL),0
        JP      NEWLIN
UPPER   CP      'a'
        RET     C
        CP      'z'+1
        RET     NC
        AND     5FH
        RET
HELLO   DEFB    CR,LF,'YARD MONITOR',CR,LF+80H
PROMPT  DEFB    CR,LF,'>'+80H
WHAT    DEFB    CR,LF,'WHAT','?'+80H
HELPTX  DEFM    'D FROM TO; E AT; F FROM TO BYTE; G AT; I PORT; O PORT BYT'
        DEFB    'E'+80H
LAST    EQU     $
        ORG     RAM0
BUFFER  DEFS    BUFLEN
CURSOR  DEFS    2
        DEFS    64
STACK   EQU     $
        END     COLD
