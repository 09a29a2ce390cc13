; EQU on $ inside RUNAT, local labels, and labels outside used inside.
        CAPACITY 64
rom:    NOP                     ;= 00
        RUNAT 8000H
ram:    NOP                     ;= 00
here    EQU $                   ; 8001H
.x      DJNZ .x                 ;= 10 FE
        LD HL,here              ;= 21 01 80
        LD HL,rom               ;= 21 00 00
        LD HL,back              ;= 21 0D 00
        ENDRUNAT
back    EQU $                   ; 1+1+2+3+3+3 = 13 = 0DH
        DEFW here,ram.x,back-rom ;= 01 80 01 80 0D 00
