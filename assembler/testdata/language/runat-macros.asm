; RUNAT with macros, conditionals, INCLUDE and REPT inside.
        CAPACITY 128
jump    MACRO to
        JP to
        ENDM
        RUNAT 9000H
here:   jump here               ;= C3 00 90
        IF $ >= 9000H
        DEFB 1                  ;= 01
        ENDIF
        REPT 2                  ;= 18 FE 18 FE
        JR $
        ENDM
        INCLUDE "runat-macros.inc"
        ENDRUNAT
        jump here               ;= C3 00 90
