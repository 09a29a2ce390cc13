; ACCEPT escapes: from there on.
        CAPACITY 64
        DEFB "\n"               ;= 5C 6E        ; not yet
        ACCEPT escapes
        DEFB "\n\r\t\0\a\b\e"   ;= 0A 0D 09 00 07 08 1B
        DEFB "\\",'\'',"\""     ;= 5C 27 22
        DEFB '\x41\x7e\xFF'     ;= 41 7E FF
        DEFB "say \"go\"",'it''s' ;= 73 61 79 20 22 67 6F 22 69 74 27 73
        LD A,'\n'               ;= 3E 0A
        CP '\''                 ;= FE 27
        LD HL,'\r\n'            ;= 21 0A 0D
        EX AF,AF'               ;= 08
