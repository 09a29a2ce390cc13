; A value that looks like memory gets a warning (section 3).
        CAPACITY 64
TABLE   EQU 1234H
        LD HL,(TABLE)+2         ;= 21 36 12 ;? parentheses
