; Operands: what is memory, what is a value, and the edges of every range (section 3).
        CAPACITY 1K
TABLE   EQU 1234H
x       EQU 0ABCDH
        LD A,(5)                ;= 3A 05 00
        LD A,(2+3)              ;= 3A 05 00
        LD A,((5))              ;= 3A 05 00     ; the outermost is a parenthesis: memory
        LD A,5                  ;= 3E 05
        LD A,(2+3)*4            ;= 3E 14
        LD A,(high x)+0         ;= 3E AB
        LD A,(1)+(2)            ;= 3E 03        ;? parentheses
        LD A,+(5)               ;= 3E 05
        LD HL,(TABLE)           ;= 2A 34 12
        LD HL,TABLE             ;= 21 34 12
        LD (TABLE),HL           ;= 22 34 12
        LD (TABLE),A            ;= 32 34 12
        LD BC,(TABLE+1)         ;= ED 4B 35 12
        LD (TABLE+1),SP         ;= ED 73 35 12
        LD IX,(TABLE)           ;= DD 2A 34 12
        LD (TABLE),IY           ;= FD 22 34 12
        IN A,(10H)              ;= DB 10
        OUT (10H),A             ;= D3 10
        OUT (2*8),A             ;= D3 10
; in directives parentheses only group
        DEFB (5),(2+3)*4        ;= 05 14
        DEFW (TABLE)            ;= 34 12
        DEFS (2)
        DEFB (1),(2)            ;= 01 02
; displacements
        LD A,(IX)               ;= DD 7E 00
        LD (IY),A               ;= FD 77 00
        LD A,(IX+0)             ;= DD 7E 00
        LD A,(IX-3+1)           ;= DD 7E FE     ; -2
        LD A,(IX+3-1)           ;= DD 7E 02
        LD A,(IX+2*3)           ;= DD 7E 06
        LD A,(IX-2*3)           ;= DD 7E FA
        LD A,(IX+-1)            ;= DD 7E FF
        LD A,(IX-(1+1))         ;= DD 7E FE
        LD A,(IX+'A')           ;= DD 7E 41
        LD A,(IX+127)           ;= DD 7E 7F
        LD A,(IX-128)           ;= DD 7E 80
        LD A,(IY+127)           ;= FD 7E 7F
        LD (IY-128),5           ;= FD 36 80 05
        LD (IX+1),-1            ;= DD 36 01 FF
        BIT 7,(IX+2)            ;= DD CB 02 7E
        SET 0,(IY-1)            ;= FD CB FF C6
        RLC (IX)                ;= DD CB 00 06
        INC (IX+later)          ;= DD 34 11
        LD B,(IX+1)             ;= DD 46 01
        JP (IX)                 ;= DD E9
; bytes: -256 ... 255
        LD A,255                ;= 3E FF
        LD A,-256               ;= 3E 00
        LD A,-255               ;= 3E 01
        LD A,-128               ;= 3E 80
        ADD A,0                 ;= C6 00
        DEFB 255,-256,-1        ;= FF 00 FF
        OUT (-1),A              ;= D3 FF
; words: -65536 ... 65535
        LD HL,65535             ;= 21 FF FF
        LD HL,-65536            ;= 21 00 00
        LD HL,-1                ;= 21 FF FF
        DEFW 65535,-65536,-32768 ;= FF FF 00 00 00 80
        LD A,(65535)            ;= 3A FF FF
; relative jumps: -126 ... +129 from their own address
        ORG 200H
        JR $-126                ;= 18 80        ; 182H-202H = -128
        JR $+129                ;= 18 7F        ; 283H-204H = 127
        DJNZ $-126              ;= 10 80
        DJNZ $+129              ;= 10 7F
        JR NZ,$+2               ;= 20 00
        JR C,$-126              ;= 38 80
        JR NC,$+129             ;= 30 7F
        JR Z,$                  ;= 28 FE
later   EQU 11H
; BIT, SET, RES, IM, RST with any expression, known later or not
        BIT 0,A                 ;= CB 47
        BIT 3+4,B               ;= CB 78        ; 01 111 000
        SET bit5,(HL)           ;= CB EE        ; 11 101 110
        RES bit5-5,C            ;= CB 81        ; 10 000 001
        IM 1                    ;= ED 56
        IM mode                 ;= ED 5E
        RST 8                   ;= CF
        RST reset               ;= DF
        RST reset+8             ;= E7
bit5    EQU 5
mode    EQU 2
reset   EQU 18H
