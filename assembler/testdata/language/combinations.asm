; Forms together, as existing programs mix them (section 5, issue on the whole language).
        CAPACITY 2K
; a macro that defines labels, standing in conditionals
WITH_BELL EQU 1
entry   MACRO name,text
        LOCAL next
name:   DEFB next-$-1           ; length
        DEFM text
next:
        ENDM
        IF WITH_BELL
        entry BELL,"bell"       ;= 04 62 65 6C 6C
        ELSE
        entry BELL,"none"
        ENDIF
        IFDEF BELL
        DEFB BELL               ;= 00
        ENDIF
; colonless labels in column 1 next to colonless operations in column 1
LOOP    LD A,1                  ;= 3E 01        ; at 6
LD B,2                          ;= 06 02
AGAIN
DJNZ AGAIN                      ;= 10 FE        ; at 0AH
JR LOOP                         ;= 18 F8        ; at 0CH: 6-0EH = -8
; ORG down and up
        ORG 200H
up      DEFW up                 ;= 00 02
        ORG 100H
down:   DEFW down,up            ;= 00 01 00 02
        ORG 202H
        DEFB $ - up             ;= 02
; REPT around DEFB with IF on $
        ORG 300H
        REPT 20                 ;= 00 01 02 03 04 05 06 07
        IF $ < 308H
        DEFB $ - 300H
        ENDIF
        ENDM
; a macro with RUNAT around a label table
        ORG 310H
reloc   MACRO at,l
        RUNAT at
        DEFW l
        ENDRUNAT
        ENDM
        reloc 9000H,<$,$>       ;= 00 90 00 90
; chains of forward EQUs through conditionals
c1      EQU c2+1
        IF WITH_BELL
c2      EQU c3*2
        ENDIF
c3      EQU c4
c4      EQU 10H
        DEFB c1                 ;= 21
; a macro called in column 1 with a label before it
nop2    MACRO
        NOP
        NOP
        ENDM
nop2                            ;= 00 00
here    nop2                    ;= 00 00
here2:  nop2                    ;= 00 00
        DEFB here2-here         ;= 02
; a macro expands to column-1 labels without colon
lab2    MACRO n
n       DEFB 1
n&_end
        ENDM
        lab2 tab                ;= 01
        DEFB tab_end-tab        ;= 01
; local labels inside macros that stand between local labels
.one    NOP                     ;= 00
poll    MACRO
.one    JR .one
        ENDM
        poll                    ;= 18 FE
        JR .one                 ;= 18 FB        ; back over 2+2+1 bytes
; DEFL as a counter in a macro
number  DEFL 0
item    MACRO
        DEFB number
number  DEFL number+1
        ENDM
        item                    ;= 00
        item                    ;= 01
        item                    ;= 02
        DEFB number             ;= 03
