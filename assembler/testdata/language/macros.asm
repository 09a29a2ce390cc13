; MACRO ... ENDM (section 5). The line that calls carries the bytes of its expansion.
        CAPACITY 1K
; --- no parameters, one, several
push3   MACRO
        PUSH AF
        PUSH BC
        PUSH HL
        ENDM
        push3                   ;= F5 C5 E5
two     MACRO p1,p2
        LD A,p1
        LD B,p2
        ENDM
        two 5,6                 ;= 3E 05 06 06
        two 1+1,'x'             ;= 3E 02 06 78
lab:    two (IX+1),C            ;= DD 7E 01 41
here    two 7,8                 ;= 3E 07 06 08
        DEFW lab,here           ;= 0B 00 0F 00
; in column 1, with colon, lower case
wait: macro n
        DEFB n
 endm
wait 3                          ;= 03
; a parameter is replaced where it stands as a word
word    MACRO a1,x
        DEFB a1,x,x+a1
        LD A,a1
xa1     DEFL 9
        DEFB xa1
        ENDM
        word 2,10               ;= 02 0A 0C 3E 02 09
; & joins; in strings only &p is replaced
join    MACRO p,q
l&p:    DEFB q
m_&p&_z: DEFB 0
        DEFB 'p &p q','&q!'
        LD A,p&0&q&H-p&00H
        ENDM
        join 1,2                ;= 02 00 70 20 31 20 71 32 21 3E 02
        join 3,4                ;= 04 00 70 20 33 20 71 34 21 3E 04
        DEFB m_1_z-l1,l3-l1     ;= 01 0B
masked  MACRO p
        DEFB p & 0FH            ; blanks around it: the operator
        ENDM
        masked 3CH              ;= 0C
; --- arguments
opt     MACRO x,y
        DEFB x
        IFDEF nothing
        DEFB 99
        ENDIF
        DEFB 'y=&y;'
        ENDM
        opt 1                   ;= 01 79 3D 3B  ; a missing argument is empty
        opt 1,2                 ;= 01 79 3D 32 3B
list    MACRO l
        DEFB l
        ENDM
        list <1,2,3>            ;= 01 02 03
        list 4                  ;= 04
        list 'a'                ;= 61
        list ','                ;= 2C
        list "x,y"              ;= 78 2C 79
        list (1+2)*3            ;= 09
        list <1,'a',"b,c">      ;= 01 61 62 2C 63
pass    MACRO q
        list q
        ENDM
        pass 5                  ;= 05
        pass <<6,7>>            ;= 06 07
; --- a macro wins over a mnemonic
CCF     MACRO
        SCF
        CPL
        ENDM
        CCF                     ;= 37 2F
CCF                             ;= 37 2F
; --- LOCAL names are new in each expansion
delay   MACRO n
        LOCAL again,done
        LD B,n
again:  DJNZ again
        JR done
done:
        ENDM
        delay 5                 ;= 06 05 10 FE 18 00
        delay 6                 ;= 06 06 10 FE 18 00
; --- local labels in a macro: a scope of its own
outer:  NOP                     ;= 00
.x:     NOP                     ;= 00
spin    MACRO
.x:     JR .x
        ENDM
        spin                    ;= 18 FE
        spin                    ;= 18 FE
        JR .x                   ;= 18 F9        ; the one of outer: 4+1+2 bytes back
; --- a macro may define labels
mark    MACRO name,value
name:   DEFB value
        ENDM
        mark red,1              ;= 01
        mark green,2            ;= 02
        DEFB green-red          ;= 01
; --- EXITM
upto    MACRO n
        DEFB 1
        IF n = 1
        EXITM
        ENDIF
        DEFB 2
        ENDM
        upto 1                  ;= 01
        upto 2                  ;= 01 02
; --- a macro calls itself, with an end
count   MACRO n
        IF n > 0
        DEFB n
        count n-1
        ENDIF
        ENDM
        count 4                 ;= 04 03 02 01
; --- a macro defines a macro
maker   MACRO name,v
name    MACRO
        DEFB v
        ENDM
        ENDM
        maker five,5
        maker six,6
        five                    ;= 05
        six                     ;= 06
; --- macros and labels are separate
both    EQU 8
both    MACRO
        DEFB both
        ENDM
        both                    ;= 08
; --- words that end things are plain labels in a macro's body
odd     MACRO
ENDM:   DEFB 1
endm    EQU 2
IF:     DEFB 3
        ENDM
        odd                     ;= 01 03
; --- $ in an expansion is the address of its own statement
dollar  MACRO
        DEFB 0
        JR $
        ENDM
        dollar                  ;= 00 18 FE
; --- remarks in the body, a semicolon in an argument's string
note    MACRO x                 ; parameter x
        DEFB x                  ; x is not replaced here in a way that matters
        ENDM                    ; the end
        note ';'                ;= 3B
; --- defined in a skipped part: not defined
        IF 0
ghost   MACRO
        DEFB 1
        ENDM
        ENDIF
ghost   MACRO
        DEFB 2
        ENDM
        ghost                   ;= 02
