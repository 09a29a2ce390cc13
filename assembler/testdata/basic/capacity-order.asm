; CAPACITY with its parts in another order, values by name.
;@ length 256
;@ cell 0000 = 00 E5 E5
;@ cell 00FF = E5
size    EQU 100H
base    EQU 2000H
        .capacity size, blank 0E5H, at base
        NOP                     ;= 00
        DEFS 2
lab:    REQUIRE lab = 2003H
