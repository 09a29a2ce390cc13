; Blank cells are 0FFH, the first address is 0.
;@ length 8
;@ cell 0000 = 00 FF 01 FF FF FF FF 02
        CAPACITY 8
        NOP                     ;= 00
        DEFS 1
        DEFB 1                  ;= 01
        ORG 7
        DEFB 2                  ;= 02
