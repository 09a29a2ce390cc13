; Macros and constants from an included file; INCLUDE inside a macro and inside conditionals.
        CAPACITY 128
        INCLUDE "include-macros.inc"
        put 5                   ;= 05 05
        IF flag
        INCLUDE "include-a.inc"
        ELSE
        INCLUDE "no-such-file.inc"
        ENDIF
load    MACRO
        INCLUDE "include-h.inc"
        ENDM
        load
        DEFB in_a               ;= 05
