start:  NOP                     ;= 00
; the label above stands in column 1, right after the byte order mark
        CAPACITY 16
        JP start                ;= C3 00 00
