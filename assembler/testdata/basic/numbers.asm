; Every number form and character form (section 3).
        CAPACITY 512
        DEFB 123                ;= 7B           ; 123 = 7*16+11
        DEFB 0FFH,0ffh,0Ffh     ;= FF FF FF
        DEFB 7FH,10h            ;= 7F 10
        DEFB $FF,$ff,$0,$a      ;= FF FF 00 0A
        DEFB 0xFF,0Xff,0x7f     ;= FF FF 7F
        DEFB #FF,#0a,#7F        ;= FF 0A 7F
        DEFB %1010,%11111111,%0 ;= 0A FF 00
        DEFB 1010B,1010b,1B     ;= 0A 0A 01
        DEFB 0b1010,0B11        ;= 0A 03
        DEFB 17O,17o,17Q,377q   ;= 0F 0F 0F FF  ; 1*8+7; 3*64+7*8+7
        DEFB 123D,99d           ;= 7B 63
        DEFW 1K,32K,2k          ;= 00 04 00 80 00 08
        DEFW 1_000,0FF_FFH,$12_34 ;= E8 03 FF FF 34 12
        DEFB %1111_0000,1010_0101B,0b0000_1111 ;= F0 A5 0F
; the final H decides first: 0B1H and 0b1h are hexadecimal, as is 0D1H
        DEFB 0B1H,0b1h,0D1H,0B0BH-0B00H ;= B1 B1 D1 0B
; then 0x and 0b: the B and D at the end are digits
        DEFB 0x1B,0x1D,0xB      ;= 1B 1D 0B
; then B, O, Q, D
        DEFB 11B,11O,11Q,11D,11 ;= 03 09 09 0B 0B
; leading zeros are decimal
        DEFB 010,007,0099,0     ;= 0A 07 63 00
        DEFW 00000000000000000012 ;= 0C 00
        DEFW 0000FFFFH,0x0000FFFF,$0000FFFF ;= FF FF FF FF FF FF
; a name, not a number: begins with a letter
FFH     EQU 3
        DEFB FFH                ;= 03
; % # $ begin a number only where a value may start
        DEFB 7%4                ;= 03           ; remainder
        DEFB 7 % 4,7%%100       ;= 03 03        ; 7 MOD 100B
        DEFB 17%(5)             ;= 02
        DEFW 1000%100           ;= 00 00        ; remainder, 100 is decimal here
        ORG 100H
        DEFW $,$+1,$-1          ;= 00 01 01 01 FF 00
        DEFW $                  ;= 06 01
        DEFB $-$,low $,high $   ;= 00 08 01
        LD HL,$                 ;= 21 0B 01
        JP $                    ;= C3 0E 01
        JR $                    ;= 18 FE
        DJNZ $-2                ;= 10 FC        ; at 113H: 111H-115H
        DEFW $*2                ;= 2A 02        ; at 115H
; characters
        ORG 180H
        DEFB 'A',"A",' '        ;= 41 41 20
        LD A,'A'                ;= 3E 41
        LD A,"A"                ;= 3E 41
        LD HL,'AB'              ;= 21 42 41     ; the first one high: 4142H
        LD HL,"AB"              ;= 21 42 41
        DEFW 'AB',"Z"           ;= 42 41 5A 00
        DEFB 'AB'               ;= 41 42        ; in DEFB a string is its bytes
        DEFB "Crossing",0DH     ;= 43 72 6F 73 73 69 6E 67 0D
        DEFB 'E'+80H,80H+'E','Z'-'A' ;= C5 C5 19
        DEFW 'AB'+1             ;= 43 41
        DEFB ('A'),'A'|80H      ;= 41 C1
        DEFB HIGH 'AB',LOW 'AB' ;= 41 42
; the quote doubled stands for itself, the other quote is plain, so are ; and \
        DEFB '''',""""          ;= 27 22
        DEFB "'",'"'            ;= 27 22
        DEFB 'it''s'            ;= 69 74 27 73
        DEFB "a""b"             ;= 61 22 62
        DEFB 'a"b',"a'b"        ;= 61 22 62 61 27 62
        DEFB ';',"a;b"          ;= 3B 61 3B 62
        DEFB '\',"\",'a\n'      ;= 5C 5C 61 5C 6E
        LD A,';'                ;= 3E 3B
        LD A,''''               ;= 3E 27
        CP '"'                  ;= FE 22
        DEFB '',1,""            ;= 01
        DEFB '''''x'            ;= 27 27 78
; the apostrophe of AF' opens nothing
        EX AF,AF'               ;= 08           ; it's plain
        ex af,af' ; 'tis        ;= 08
        EX AF,AF'               ;= 08
