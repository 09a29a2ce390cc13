        CAPACITY 16             ; a byte order mark stands before this line
start:  NOP                     ;= 00
        JP start                ;= C3 00 00
