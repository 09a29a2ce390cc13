; CAPACITY with AT, BLANK and COPIES (section 5): 2K at 1000H, blank 0, four times in the file.
;@ length 8192
;@ cell 0000 = 3E 01 00 00
;@ cell 0800 = 3E 01 00 00
;@ cell 1800 = 3E 01 00 00
;@ cell 07FE = 00 55
;@ cell 1FFE = 00 55
        CAPACITY 2K, AT 1000H, BLANK 0, COPIES 4
        LD A,1                  ;= 3E 01        ; before any ORG: the chip's first address
        DEFW 0                  ;= 00 00
here:   DEFW here               ;= 04 10
        ORG 17FFH
        DEFB 55H                ;= 55           ; the last cell
end:                            ; one past it
        REQUIRE end = 1800H
