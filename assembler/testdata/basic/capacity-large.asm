; A chip over 64K holds code only where the CPU can see it.
;@ length 131072
;@ cell FFFF = 76 FF FF
        CAPACITY 128K
        ORG 0FFFFH
        HALT                    ;= 76
