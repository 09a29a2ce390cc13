; The chip ends at the top of the address space; the counter may stand at 10000H.
;@ length 16384
;@ cell 3FFF = 76
        CAPACITY 16K, AT 0C000H
        ORG 0FFFFH
        HALT                    ;= 76
top:    REQUIRE top = 10000H
