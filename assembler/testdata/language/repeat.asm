; REPT, IRP, IRPC (section 5). The line of REPT carries the bytes of all repetitions.
        CAPACITY 512
        REPT 3                  ;= 01 02 01 02 01 02
        DEFB 1,2
        ENDM
        rept 0
        DEFB 9
        endm
n       DEFL 0
        REPT 4                  ;= 00 01 02 03
        DEFB n
n       DEFL n+1
        ENDM
        DEFB n                  ;= 04
lab:    REPT 2                  ;= 00 00
        NOP
        ENDM
        DEFB $-lab              ;= 02
        IRP x,<1,2,'c'>         ;= 01 01 02 02 63 63
        DEFB x,x
        ENDM
        IRP r,<BC,DE,HL>        ;= C5 D5 E5
        PUSH r
        ENDM
        IRP r,<B,(HL),(IX+1)>   ;= 78 7E DD 7E 01
        LD A,r
        ENDM
        IRPC c,ABC              ;= 41 42 43
        DEFB '&c'
        ENDM
        IRPC d,1357             ;= 01 03 05 07
        DEFB d
        ENDM
        IRPC d,12               ;= 11 12
        DEFB 1&d&H
        ENDM
        IRPC k,HL               ;= 24 2C
        INC k
        ENDM
; nested
        REPT 2                  ;= 01 02 02 01 02 02
        DEFB 1
        REPT 2
        DEFB 2
        ENDM
        ENDM
        IRP a1,<1,2>            ;= 13 14 23 24
        IRP b1,<3,4>
        DEFB a1*16+b1
        ENDM
        ENDM
; inside a macro, with its parameters
fill    MACRO n,v
        REPT n
        DEFB v
        ENDM
        ENDM
        fill 3,7                ;= 07 07 07
        fill 20,0FFH            ;= FF*20
each    MACRO l
        IRP x,<l>
        DEFB x+1
        ENDM
        ENDM
        each <1,2,3>            ;= 02 03 04
; conditionals inside
k       DEFL 0
        REPT 4                  ;= 00 AA 02 AA
        IF k AND 1
        DEFB 0AAH
        ELSE
        DEFB k
        ENDIF
k       DEFL k+1
        ENDM
; EXITM ends the repetitions
k       DEFL 0
        REPT 10                 ;= 00 01 02
        DEFB k
k       DEFL k+1
        IF k = 3
        EXITM
        ENDIF
        ENDM
; LOCAL and local labels
        REPT 2                  ;= 10 FE 18 FE 10 FE 18 FE
        LOCAL lp
lp:     DJNZ lp
.m:     JR .m
        ENDM
; labels joined from the word
        IRP c,<red,green>       ;= 01 01
lamp_&c: DEFB 1
        ENDM
        DEFB lamp_green-lamp_red ;= 01
; around DUP and strings
        REPT 2                  ;= 61 62 05 05 61 62 05 05
        DEFB 'ab',2 DUP(5)
        ENDM
