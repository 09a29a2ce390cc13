; Spellings that are read quietly beside the maker's own (section 4).
        CAPACITY 512
; the accumulator left out
        ADD B                   ;= 80
        ADD (HL)                ;= 86
        ADD 5                   ;= C6 05
        ADD (IX+1)              ;= DD 86 01
        ADC C                   ;= 89
        ADC 5                   ;= CE 05
        ADC A                   ;= 8F
        ADD A                   ;= 87
        SBC D                   ;= 9A
        SBC 5                   ;= DE 05
        SBC (IY+2)              ;= FD 9E 02
; the accumulator written
        SUB A,B                 ;= 90
        SUB A,5                 ;= D6 05
        SUB A,A                 ;= 97
        AND A,E                 ;= A3
        AND A,(HL)              ;= A6
        AND A,0FH               ;= E6 0F
        XOR A,A                 ;= AF
        XOR A,(IX+3)            ;= DD AE 03
        OR A,L                  ;= B5
        OR A,80H                ;= F6 80
        CP A,5                  ;= FE 05
        CP A,(HL)               ;= BE
        CP A,H                  ;= BC
; the maker's
        ADD A,B                 ;= 80
        ADC A,5                 ;= CE 05
        SBC A,A                 ;= 9F
        SUB B                   ;= 90
        CP 5                    ;= FE 05
        ADD HL,DE               ;= 19
        ADC HL,DE               ;= ED 5A
        SBC HL,HL               ;= ED 62
        ADD IX,SP               ;= DD 39
        ADD IY,IY               ;= FD 29
; ports without parentheses
        IN A,5                  ;= DB 05
        OUT 5,A                 ;= D3 05
        IN A,(5)                ;= DB 05
        OUT (5),A               ;= D3 05
        IN A,(C)                ;= ED 78
        OUT (C),A               ;= ED 79
        IN C,(C)                ;= ED 48
        OUT (C),C               ;= ED 49
; exchanges and jumps
        EX AF,AF                ;= 08
        EX AF,AF'               ;= 08
        ex af,af                ;= 08
        EX DE,HL                ;= EB
        EX (SP),IX              ;= DD E3
        JP HL                   ;= E9
        JP (HL)                 ;= E9
        JP IX                   ;= DD E9
        JP IY                   ;= FD E9
        JP (IY)                 ;= FD E9
        jp hl                   ;= E9
; interrupt modes
        IM 0                    ;= ED 46
        IM0                     ;= ED 46
        IM1                     ;= ED 56
        IM2                     ;= ED 5E
        im1                     ;= ED 56
; restarts
        RST 0                   ;= C7
        RST 8                   ;= CF
        RST 08H                 ;= CF
        RST 8H                  ;= CF
        RST 10H                 ;= D7
        RST 16                  ;= D7
        RST $18                 ;= DF
        RST 0x20                ;= E7
        RST 28H                 ;= EF
        RST 30H                 ;= F7
        RST $38                 ;= FF
        RST SYMBOL              ;= EF
        rst 56                  ;= FF
SYMBOL  EQU 28H
; C is a register or a condition
        LD C,C                  ;= 49
        RET C                   ;= D8
        JP C,1234H              ;= DA 34 12
        CALL C,1234H            ;= DC 34 12
        JR C,$                  ;= 38 FE
        INC C                   ;= 0C
; letter case
        Ld A,(Hl)               ;= 7E
        pUSH Af                 ;= F5
        call Nz,1234H           ;= C4 34 12
        ret PE                  ;= E8
        ldir                    ;= ED B0
        Otir                    ;= ED B3
; loads with I and R, 16-bit loads
        LD A,I                  ;= ED 57
        LD R,A                  ;= ED 4F
        LD SP,HL                ;= F9
        LD SP,IX                ;= DD F9
        LD SP,(1234H)           ;= ED 7B 34 12
        LD (1234H),HL           ;= 22 34 12     ; the short form
        LD HL,(1234H)           ;= 2A 34 12
