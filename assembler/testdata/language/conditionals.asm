; Conditional assembly (section 5).
        CAPACITY 512
yes     EQU 1
no      EQU 0
        IF yes
        DEFB 1                  ;= 01
        ENDIF
        IF no
        DEFB 2
        ENDIF
        IF no
        DEFB 3
        ELSE
        DEFB 4                  ;= 04
        ENDIF
        COND yes
        DEFB 5                  ;= 05
        ELSE
        DEFB 6
        ENDC
; ELSEIF: the first true one, and only that
        IF no
        DEFB 7
        ELSEIF no
        DEFB 8
        ELSEIF yes
        DEFB 9                  ;= 09
        ELSEIF yes
        DEFB 10
        ELSE
        DEFB 11
        ENDIF
        IF yes
        DEFB 12                 ;= 0C
        ELSEIF 1/0              ; not asked any more
        DEFB 13
        ENDIF
; any value but 0 is true
        IF 5
        DEFB 14                 ;= 0E
        ENDIF
        IF -1
        DEFB 15                 ;= 0F
        ENDIF
        IF yes = 1 AND no = 0
        DEFB 16                 ;= 10
        ENDIF
        IF NOT (yes = 2)
        DEFB 17                 ;= 11
        ENDIF
        IF 'A' < 'B'
        DEFB 18                 ;= 12
        ENDIF
; in column 1, with dots, with #, in lower case
IF yes
        DEFB 19                 ;= 13
ENDIF
if no
        DEFB 20
else
        DEFB 21                 ;= 15
endif
        .if yes
        DEFB 22                 ;= 16
        .elseif no
        DEFB 23
        .else
        DEFB 24
        .endif
#if no
        DEFB 25
#elseif yes
        DEFB 26                 ;= 1A
#else
        DEFB 27
#endif
; nested, true and skipped
        IF yes
        IF no
        DEFB 28
        IF yes
        DEFB 29
        ELSE
        DEFB 30
        ENDIF
        ELSE
        DEFB 31                 ;= 1F
        ENDIF
        DEFB 32                 ;= 20
        ELSE
        IF yes
        DEFB 33
        ELSEIF yes
        DEFB 34
        ENDIF
        ENDIF
; a skipped part need not make sense
        IF no
        this is no operation
        DEFB 'unterminated
        LD A,(((
        DEFB "
        )(*&^%$# @!
        frob MACRO
        1 2 3
        GIZMO EQU
        INCLUDE "no-such-file"
        ENDIF
        DEFB 35                 ;= 23
; labels named like the words, in a skipped part
        IF no
ENDIF:  DEFB 36
ELSE:   NOP
IF:     NOP
END:    NOP
ENDIF   EQU 5
        DEFB 37
        ELSE
        DEFB 38                 ;= 26
        ENDIF
; END in a skipped part ends nothing
        IF no
        END
        ENDIF
        DEFB 39                 ;= 27
; IF on $
here:   IF $ > 5
        DEFB 40                 ;= 28
        ENDIF
        IF $ - here <> 1
        DEFB 41
        ENDIF
; IFDEF and IFNDEF see what stands above them
        IFDEF yes
        DEFB 42                 ;= 2A
        ENDIF
        IFNDEF yes
        DEFB 43
        ELSE
        DEFB 44                 ;= 2C
        ENDIF
        IFDEF later
        DEFB 45
        ELSE
        DEFB 46                 ;= 2E
        ENDIF
        IFNDEF later
        DEFB 47                 ;= 2F
        ENDIF
later   EQU 1
        ifdef later
        DEFB 48                 ;= 30
        ENDIF
        IFDEF here              ; a label
        DEFB 49                 ;= 31
        ENDIF
        .ifdef never
        DEFB 50
        .endif
        #ifndef never
        DEFB 51                 ;= 33
        #endif
        IF no
        IFDEF yes
        DEFB 52
        ENDIF
        COND yes
        ENDC
        ENDIF
        DEFB 53                 ;= 35
; a label before IF counts
lab1:   IF no
        DEFB 54
        ENDIF
        DEFB $ - lab1           ;= 00
