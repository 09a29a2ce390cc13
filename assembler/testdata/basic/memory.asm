; Placement: code at both ends of the chip, going down, right against each other (section 6).
;@ length 32
;@ cell 0000 = 03 FF FF FF FF FF FF FF 02 02 01 01 FF FF FF FF
;@ cell 0010 = FF FF FF FF FF FF FF FF FF FF FF FF FF FF FF 04
        CAPACITY 32
        ORG 0AH
        DEFB 1,1                ;= 01 01
        ORG 8
        DEFB 2,2                ;= 02 02
        ORG 0
        DEFB 3                  ;= 03
        ORG 1FH
        DEFB 4                  ;= 04
