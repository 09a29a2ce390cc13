; options: --accept undocumented --accept escapes
; The option holds everywhere, from the first line.
        CAPACITY 64
        DEFB "\r"               ;= 0D
        SLL D                   ;= CB 32
