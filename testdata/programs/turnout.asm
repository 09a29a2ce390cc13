; Turnouts: each is thrown by a pulse on one of two coils. Written with macros.
; turnout-flat.asm is the same program without them; both give the same image.
        CAPACITY 1K
        RAM 256, AT 4000H

coils   EQU 30H
pulse   EQU 40                  ; ms

; save and restore the registers a routine uses
save    MACRO r1,r2,r3
        IRP r,<r1,r2,r3>
        PUSH r
        ENDM
        ENDM
restore MACRO r1,r2,r3
        POP r3
        POP r2
        POP r1
        ENDM

; wait n milliseconds at 4 MHz
ms      MACRO n
        LOCAL outer,inner
        LD C,n
outer:  LD B,250
inner:  NOP
        DJNZ inner
        DEC C
        JR NZ,outer
        ENDM

; throw turnout number n by the coil on its bit
throw   MACRO n,side
        LD A,1 SHL (n*2+side)
        OUT (coils),A
        CALL hold
        XOR A
        OUT (coils),A
        ENDM

; a route's entry: its letter, how many turnouts, then each turnout's coil
route   MACRO letter,list
        LOCAL from,to
        DEFB letter,to-from
from:   DEFB list
to:
        ENDM

; jump to a place when A is a letter
case    MACRO letter,place
        CP letter
        JP Z,place
        ENDM

        ORG 0
        DI
        LD SP,4100H
        JP main

        ORG 20H
hold:   save BC,DE,HL
        ms pulse
        restore BC,DE,HL
        RET

main:   throw 0,0
        throw 1,1
        throw 2,0
loop:   IN A,(31H)
        case 'A',set_a
        case 'B',set_b
        case 'C',set_c
        JR loop

set_a:  LD HL,routes
        JR set
set_b:  LD HL,routes+route_b-route_a
        JR set
set_c:  LD HL,route_c
set:    INC HL
        LD B,(HL)
.each:  INC HL
        LD A,(HL)
        OUT (coils),A
        save AF,BC,HL
        ms 2*pulse
        restore AF,BC,HL
        DJNZ .each
        ms 1
        ms 1
        JP loop

routes:
route_a:
        route 'A',<1,4,10H>
route_b:
        route 'B',<2,8>
route_c:
        route 'C',<1,8,20H,40H>

; powers of two, and a table of nibbles turned round
number  DEFL 1
bits:   REPT 8
        DEFB number
number  DEFL number*2
        ENDM
number  DEFL 0
turned: REPT 16
        DEFB (number & 1)*8 + (number & 2)*2 + (number & 4)/2 + (number & 8)/8
number  DEFL number+1
        ENDM
        DEFB number
