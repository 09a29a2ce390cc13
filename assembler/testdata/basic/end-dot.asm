; options: --capacity 64
; .end with a dot; the capacity is given as an option.
        .org    0
        .db     1,2             ;= 01 02
        .end
        DEFB 3
