; Local labels (section 2): .name belongs to the stretch between two labels that are not local.
        CAPACITY 128
first:  NOP                     ;= 00
.loop:  DJNZ .loop              ;= 10 FE
CONST   EQU 7                   ; EQU and DEFL open no scope
VARI    DEFL 8
SAME    = 9
        JR .loop                ;= 18 FC        ; at 3: 1-5 = -4
second:                         ; at 5
.loop   JR .loop                ;= 18 FE
        JP first.loop           ;= C3 01 00
        JP second.loop          ;= C3 05 00
        JR .end                 ;= 18 02        ; at 0DH, target 11H
        LD A,CONST              ;= 3E 07
.end:   RET                     ;= C9           ; at 11H
third   LD B,5                  ;= 06 05        ; colonless label opens a scope
.end    DJNZ .end               ;= 10 FE        ; at 14H
.equ:   NOP                     ;= 00           ; at 16H: a colon makes it a label, not a directive
        DEFW second.end,third.end,third.equ,third.loop ;= 11 00 14 00 16 00 1F 00
.loop   NOP                     ;= 00           ; at 1FH
; a local label in an expression, and forward across it
fourth: LD HL,.tab+1            ;= 21 24 00     ; at 20H
.tab:   DEFB 1,2                ;= 01 02        ; at 23H
        DEFB .tab-fourth        ;= 03
