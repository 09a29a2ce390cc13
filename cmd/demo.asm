; Level crossing for a model railway.
;
; A sensor in the track holds bit 0 of its port low while a train is over
; it. The crossing then flashes two lamps in turn and rings a bell, and
; goes on for a few flashes after the train has passed.
;
; Bench: Z80 at 500 kHz, 8K ROM at 0000H, 2K RAM at 8000H.

        CAPACITY 8K, AT 0, BLANK 0FFH
        RAM     2K, AT 8000H

sensor  EQU     20H             ; in:  bit 0 is low while a train is there
lamps   EQU     21H             ; out: bit 0 left lamp, bit 1 right lamp
bell    EQU     22H             ; out: bit 0 rings

train   EQU     0               ; bit of the sensor
after   EQU     6               ; flashes that follow the train
pause   EQU     0C00H           ; rounds of the delay loop for one flash

        ORG     0000H
start:  LD      SP,stack
        XOR     A
        OUT     (lamps),A       ; all dark, all quiet
        OUT     (bell),A
        LD      (flashes),A

; Wait for a train. A train must stand over the sensor for one lap of this
; loop to be seen whatever the moment, so the lap is kept short.
idle:   IN      A,(sensor)
        BIT     train,A
        JR      NZ,idle
idle_end:
        REQUIRE LAP(idle, idle_end) <= 40, "a quick train would be missed"

; A train: ring, and set the count of flashes anew as long as it is there.
warn:   LD      A,1
        OUT     (bell),A
again:  LD      A,after
        LD      (flashes),A

; One flash: both halves of the pattern, each with a pause.
flash:  LD      HL,pattern
        LD      B,pattern_end-pattern
step:   LD      A,(HL)
        INC     HL
        OUT     (lamps),A
        CALL    delay
        DJNZ    step

        IN      A,(sensor)
        BIT     train,A
        JR      Z,again         ; still there
        LD      A,(flashes)
        DEC     A
        LD      (flashes),A
        JR      NZ,flash

        XOR     A               ; the crossing is free
        OUT     (lamps),A
        OUT     (bell),A
        JR      idle

; Wait one lamp's time. Changes DE and A.
delay:  LD      DE,pause
round:  DEC     DE
        LD      A,D
        OR      E
        JR      NZ,round
round_end:
        RET
        REQUIRE LAP(round, round_end) = 26, "the pause was worked out for 26 T-states"

; The lamps in turn.
pattern:
        DEFB    01B, 10B
pattern_end:

        DEFB    "CROSSING 1", 0 ; shows in a dump which program the chip holds

        ORG     8000H
flashes:
        DEFS    1               ; flashes still to come
        DEFS    32
stack:
        END     start
