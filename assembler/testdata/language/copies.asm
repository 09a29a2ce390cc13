; COPIES with RUNAT and a block from END's address.
;@ length 192
;@ entry 8000
;@ cell 0000 = C3 00 80 3E
;@ cell 0040 = C3 00 80 3E
;@ cell 0080 = C3 00 80 3E
;@ cell 00BF = 00
        CAPACITY 64, COPIES 3, BLANK 0
        JP go                   ;= C3 00 80
        RUNAT 8000H
go:     LD A,1                  ;= 3E 01
        HALT                    ;= 76
        ENDRUNAT
        END go
