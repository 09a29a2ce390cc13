;------------------------------------------------------------------
; BLOCK SIGNALS OF A MODEL RAILWAY: FOUR BLOCKS IN A RING
;
; A BLOCK IS OCCUPIED WHEN ITS BIT OF THE SENSOR PORT IS 0. THE SIGNAL
; BEFORE AN OCCUPIED BLOCK IS RED, THE ONE BEFORE THAT YELLOW, ALL
; OTHERS GREEN. EACH SIGNAL HAS TWO BITS OF THE LAMP PORT.
;------------------------------------------------------------------
        CAPACITY 2K
        RAM     1K, AT 2000H

SENSOR  EQU     00H             ; IN: BIT N = BLOCK N, 0 = OCCUPIED
LAMPS   EQU     01H             ; OUT: TWO BITS A SIGNAL
BELL    EQU     02H             ; OUT: BIT 0

RED     EQU     01B
YELLOW  EQU     10B
GREEN   EQU     11B
BLOCKS  EQU     4
STACK   EQU     2400H

        ORG     0000H
RESET:  DI
        LD      SP,STACK
        IM      1
        XOR     A
        OUT     (LAMPS),A
        OUT     (BELL),A
        LD      HL,RAMTOP-1
CLEAR:  LD      (HL),0          ; VARIABLES START AS 0
        DEC     HL
        LD      A,H
        CP      HIGH (VARS-1)
        JR      NZ,CLEAR
        JP      MAIN

        ORG     0038H
TICK:   PUSH    AF
        PUSH    HL
        LD      HL,TICKS
        INC     (HL)
        JR      NZ,TICK1
        INC     HL
        INC     (HL)
TICK1:  POP     HL
        POP     AF
        EI
        RETI

        ORG     0066H
        RETN                    ; THE PUSH BUTTON DOES NOTHING

        ORG     0080H
MAIN:   EI
LOOP:   CALL    READ
        CALL    DECIDE
        CALL    SHOW
        CALL    RING
        LD      BC,1000
        CALL    WAIT
        JR      LOOP

; READ THE SENSORS; TWO EQUAL READINGS COUNT, SINCE CONTACTS BOUNCE.
; OUT: A AND (OCCUP), BIT N = 1 WHERE BLOCK N IS OCCUPIED
READ:   IN      A,(SENSOR)
        LD      B,A
        IN      A,(SENSOR)
        CP      B
        JR      NZ,READ
        CPL
        AND     (1 SHL BLOCKS)-1
        LD      (OCCUP),A
        RET

; FROM (OCCUP) MAKE THE ASPECTS OF ALL SIGNALS
DECIDE: LD      A,(OCCUP)
        LD      C,A             ; C: BLOCKS AHEAD, ROTATED BIT BY BIT
        LD      HL,ASPECT
        LD      B,BLOCKS
DEC1:   LD      (HL),RED
        BIT     0,C
        JR      NZ,DEC2
        LD      (HL),YELLOW
        BIT     1,C
        JR      NZ,DEC2
        LD      (HL),GREEN
DEC2:   INC     HL
        CALL    TURN
        DJNZ    DEC1
        RET

; TURN THE LOWER BLOCKS BITS OF C RIGHT BY ONE
TURN:   SRL     C
        RET     NC
        SET     BLOCKS-1,C
        RET

; SHOW THE ASPECTS: SIGNAL 0 IN THE LOWEST TWO BITS
SHOW:   LD      HL,ASPECT+BLOCKS-1
        LD      B,BLOCKS
        XOR     A
SHOW1:  ADD     A,A
        ADD     A,A
        OR      (HL)
        DEC     HL
        DJNZ    SHOW1
        LD      (SHOWN),A
        OUT     (LAMPS),A
        RET

; THE BELL RINGS WHEN MORE BLOCKS ARE OCCUPIED THAN BEFORE
RING:   LD      A,(OCCUP)
        CALL    COUNT
        LD      HL,BEFORE
        CP      (HL)
        LD      (HL),A
        RET     C
        RET     Z
        LD      A,1
        OUT     (BELL),A
        LD      BC,200
        CALL    WAIT
        XOR     A
        OUT     (BELL),A
        RET

; COUNT THE ONES IN A BY A TABLE OF HALF BYTES
COUNT:  AND     0FH
        LD      E,A
        LD      D,0
        LD      HL,ONES
        ADD     HL,DE
        LD      A,(HL)
        RET

; WAIT BC LAPS
WAIT:   DEC     BC
        LD      A,B
        OR      C
        JR      NZ,WAIT
WAITE:  RET

ONES:   DEFB    0,1,1,2,1,2,2,3
        DEFB    1,2,2,3,2,3,3,4
ONESE:
        DEFM    'BLOCK SIGNALS'
        DEFB    0DH,0AH,0
        DEFW    RESET,MAIN,ONES

        REQUIRE ONESE-ONES = 16, "one entry for each half byte"
        REQUIRE LAP(WAIT,WAITE) = 26
        REQUIRE $ <= 7F0H

; THE CHECK BYTES AT THE END OF THE CHIP
        ORG     7FEH
        DEFB    HIGH MAIN,LOW MAIN

; VARIABLES
        ORG     2000H
        DEFS    100H
VARS:
TICKS:  DEFS    2
OCCUP:  DEFS    1
BEFORE: DEFS    1
SHOWN:  DEFS    1
ASPECT: DEFS    BLOCKS
        ALIGN   16
RAMTOP:
        END     RESET
