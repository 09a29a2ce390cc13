; Extra arguments warn (section 5).
        CAPACITY 16
one     MACRO x
        DEFB x
        ENDM
        one 1,2                 ;= 01 ;? extra-argument
none    MACRO
        NOP
        ENDM
        none 5                  ;= 00 ;? extra-argument
        none                    ;= 00
