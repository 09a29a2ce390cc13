; More of macros: arguments, EXITM in nested blocks, words in remarks and strings (section 5).
        CAPACITY 512
; an empty argument in the middle, in front; blanks around arguments do not count
three   MACRO x,y,z
        DEFM '&x-&y-&z'
        ENDM
        three 1,,3              ;= 31 2D 2D 33
        three ,2                ;= 2D 32 2D
        three                   ;= 2D 2D
        three  a , b , c        ;= 61 2D 62 2D 63
        three <>,< 2 >,3        ;= 2D 20 32 20 2D 33    ; blanks in <...> count
; a missing argument in a sum is nothing
maybe   MACRO x
        IF x+0
        DEFB x
        ENDIF
        ENDM
        maybe
        maybe 5                 ;= 05
; remarks on the call's line, close by and with commas, apostrophes
put     MACRO x
        DEFB x
        ENDM
        put 5;close             ;= 05
        put 6 ; a, b, it's      ;= 06
put 7 ; in column 1             ;= 07
; AF' as an argument and in a body opens no string
swap    MACRO other,x
        EX AF,other             ; it's a body
        EX AF,AF'               ; and 'this
        LD A,x
        ENDM
        swap AF',1              ;= 08 08 3E 01  ; that's it
; ENDM in a remark, in a string, as part of a word
words   MACRO
        ; ENDM
        DEFB 'ENDM'             ; ENDM
xENDM   EQU 5
ENDMx:  DEFB xENDM
        ENDM
        words                   ;= 45 4E 44 4D 05
; EXITM ends the innermost expansion
inner   MACRO
        REPT 3
        DEFB 1
        EXITM
        DEFB 9
        ENDM
        DEFB 2
        ENDM
        inner                   ;= 01 02
        REPT 2                  ;= 01 02 03 01 02 03
        inner
        DEFB 3
        ENDM
; a parameter may be any word; the letter case counts
odd     MACRO LD,hl,X
        DEFB LD,hl,X
        ld HL,LD
        ENDM
        odd 1,2,3               ;= 01 02 03 21 01 00
; LOCAL in nested expansions: each its own
nest    MACRO n
        LOCAL lp
lp:     NOP
        IF n
        nest n-1
        ENDIF
        DJNZ lp
        ENDM
; 0: NOP | 1: NOP | 2: DJNZ 1 = 1-4 = -3 | 4: DJNZ 0 = 0-6 = -6
        nest 1                  ;= 00 00 10 FD 10 FA
; LOCAL beside REPT in a macro
loops   MACRO n
        LOCAL lp
lp:     REPT n
        LOCAL in
in:     DJNZ in
        ENDM
        DJNZ lp                 ; 4-6 ... the REPT's names do not disturb this one
        ENDM
        loops 2                 ;= 10 FE 10 FE 10 FA
; a macro's value of a DEFL goes on outside
sum     DEFL 0
addup   MACRO l
        IRP x,<l>
sum     DEFL sum+x
        ENDM
        ENDM
        addup <1,2,3>
        addup <10>
        DEFB sum                ;= 10
; defined again from another expansion, used before and after
first   MACRO
        DEFB 1
        ENDM
        first                   ;= 01
; a call with a label alone in front, colonless and in column 1
lab
put 8                           ;= 08
lab_b   put 9                   ;= 09
        DEFB lab_b-lab          ;= 01
; INCLUDE in a REPT reads the file each time
        REPT 2
        INCLUDE "macros-more.inc"
        ENDM
; conditionals around a definition choose the body
        IF 1
pick    MACRO
        DEFB 'y'
        ENDM
        ELSE
pick    MACRO
        DEFB 'n'
        ENDM
        ENDIF
        pick                    ;= 79
; an operand with parentheses, a string with the other quote, an expression with blanks
        put (1+2)*(3+4)         ;= 15
        put '"'                 ;= 22
        put "'"                 ;= 27
        put ''''                ;= 27
        put 1 + 2               ;= 03
        put $-$                 ;= 00
