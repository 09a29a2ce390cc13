; ACCEPT commas: a comma missing after a string, or left over at a list's end, each with a warning.
        CAPACITY 64
        ACCEPT commas
        DEFB "ab" 13,10         ;= 61 62 0D 0A ;? comma
        DEFB 1,2,               ;= 01 02 ;? comma
        DEFW 1,2,               ;= 01 00 02 00 ;? comma
        DEFB 'x',"y"            ;= 78 79
        DEFB 'E'+80H            ;= C5
