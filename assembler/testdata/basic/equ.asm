; EQU, = and DEFL in detail (sections 2, 3, 5).
        CAPACITY 256
        NOP                     ;= 00
here    EQU $                   ; the address of this line, wherever it is used
        NOP                     ;= 00
        DEFW here,$-here        ;= 01 00 01 00
ahead   EQU behind-$            ; $ is this line's, 6: 0AH-6
        LD A,ahead              ;= 3E 04
        DEFW ahead              ;= 04 00
behind:
        DEFB behind             ;= 0A
; a DEFL follows the lines; an EQU that uses it takes the value at its own line
v       DEFL 1
snap1   EQU v+10
        DEFB v,snap1            ;= 01 0B
v       DEFL 2
snap2   EQU v+10
        DEFB v,snap1,snap2      ;= 02 0B 0C
; negative and large values
minus   EQU -2
big     EQU 12345678H
        DEFB minus,LOW big,HIGH big,big>>24 ;= FE 78 56 12
        LD (IX+minus),minus     ;= DD 36 FE FE
; spaces, remarks, letter case of the words
a.b     Equ 5;five
  _c    eQU(6)
        DEFB a.b,_c             ;= 05 06
