; Operators and their precedence (section 3). Where two readings are possible, the remark shows the other one.
        CAPACITY 1K
; --- * / % MOD, + - : left to right within a row
        DEFW 2+3*4              ;= 0E 00        ; not 20
        DEFW (2+3)*4            ;= 14 00
        DEFW 2*3+4              ;= 0A 00
        DEFW 20/6*2             ;= 06 00        ; 3*2, not 20/12 = 1
        DEFW 20*6/7             ;= 11 00        ; 120/7 = 17
        DEFW 20-6-2             ;= 0C 00        ; not 16
        DEFW 20-6+2             ;= 10 00        ; not 12
        DEFW 17%5,17 MOD 5      ;= 02 00 02 00
        DEFW 17 mod 5*2         ;= 04 00        ; (17 mod 5)*2, not 17 mod 10 = 7
        DEFW 100/7%4            ;= 02 00        ; 14 mod 4
; division truncates toward 0, the remainder goes with it
        DEFW -7/2,7/-2,-7/-2    ;= FD FF FD FF 03 00
        DEFW -7 MOD 2,7 MOD -2  ;= FF FF 01 00
; --- unary
        DEFW -5,+5,~5           ;= FB FF 05 00 FA FF
        DEFW --5,~~5,-~5        ;= 05 00 05 00 06 00    ; ~5 = -6
        DEFW 2--1,2-+1,2+-1     ;= 03 00 01 00 01 00
        DEFW -2*3               ;= FA FF
        DEFW ~0&0FH             ;= 0F 00        ; (~0)&15, not ~(0&15)
        DEFW 3*-2               ;= FA FF
; --- HIGH and LOW bind tightest
        DEFW HIGH 1234H,LOW 1234H ;= 12 00 34 00
        DEFW HIGH 12FFH+1       ;= 13 00        ; 12H+1, as it happens
        DEFW HIGH(12FFH+1)      ;= 13 00
        DEFW HIGH 1280H*2       ;= 24 00        ; 12H*2, not HIGH 2500H = 25H
        DEFW LOW 1280H*2        ;= 00 01        ; 80H*2, not LOW 2500H = 0
        DEFW HIGH -2,LOW -2     ;= FF 00 FE 00  ; bits 15-8 and 7-0 of -2
        DEFW -LOW 1234H         ;= CC FF        ; -(34H)
        DEFW HIGH LOW 1234H     ;= 00 00
        DEFW LOW HIGH 1234H     ;= 12 00
        DEFW HIGH 123456H       ;= 34 00        ; bits 15-8 only
        DEFW low 1ffh, Low 1FFH ;= FF 00 FF 00
; --- shifts, below + -
        DEFW 1<<4,1 SHL 4       ;= 10 00 10 00
        DEFW 80H>>3,80H SHR 3   ;= 10 00 10 00
        DEFW 1+2<<3             ;= 18 00        ; 3<<3, not 1+16
        DEFW 1<<2+1             ;= 08 00        ; 1<<3, not 5
        DEFW 1<<2<<3            ;= 20 00
        DEFW 256>>4>>2          ;= 04 00
        DEFW -8>>1,-1>>63       ;= FC FF FF FF  ; the sign is kept
        DEFW 1<<0,5>>0          ;= 01 00 05 00
        DEFW (1<<62)>>60        ;= 04 00
        DEFW 5>>63              ;= 00 00
; --- & above ^ above |
        DEFW 0FH&3CH            ;= 0C 00
        DEFW 16>>2&3            ;= 00 00        ; 4&3, not 16>>2 = 4
        DEFW 6&3<<1             ;= 06 00        ; 6&6, not (6&3)<<1 = 4
        DEFW 6^3                ;= 05 00
        DEFW 6^3&1              ;= 07 00        ; 6^1, not 5&1 = 1
        DEFW 1|3^1              ;= 03 00        ; 1|2, not 3^1 = 2
        DEFW 4|2&1              ;= 04 00        ; 4|0, not 6&1 = 0
        DEFW 1|2+4              ;= 07 00
        DEFW 5&~1               ;= 04 00
; --- comparisons: true is -1, below |
        DEFW 1=1,1==1,1 EQ 1    ;= FF FF FF FF FF FF
        DEFW 1=2,1==2,1 EQ 2    ;= 00 00 00 00 00 00
        DEFW 1<>2,1!=2,1 NE 2   ;= FF FF FF FF FF FF
        DEFW 1<>1,1!=1,1 NE 1   ;= 00 00 00 00 00 00
        DEFW 1<2,1 LT 2,2<2     ;= FF FF FF FF 00 00
        DEFW 2<=2,2 LE 2,3<=2   ;= FF FF FF FF 00 00
        DEFW 3>2,3 GT 2,2>2     ;= FF FF FF FF 00 00
        DEFW 2>=2,2 GE 2,1>=2   ;= FF FF FF FF 00 00
        DEFW -1<1,0FFFFH<1      ;= FF FF 00 00  ; signed 64-bit, not 16-bit
        DEFW 1|2=3              ;= FF FF        ; (1|2)=3, not 1|0 = 1
        DEFW 5&3=1              ;= FF FF        ; not 5&0 = 0
        DEFW 1+1=2              ;= FF FF
        DEFW 1<<1<3             ;= FF FF
        DEFW (3>2)>1            ;= 00 00        ; -1 > 1
        DEFW (1=1)=(2=2)        ;= FF FF
        DEFW -(1=1)             ;= 01 00
; --- NOT, AND, XOR, OR: bitwise, below the comparisons
        DEFW NOT 0,NOT -1,NOT 5 ;= FF FF 00 00 FA FF
        DEFW NOT 1=2            ;= FF FF        ; NOT (1=2), not (NOT 1)=2 = 0
        DEFW NOT 5=5            ;= 00 00        ; NOT -1, not (-6)=5
        DEFW NOT NOT 5          ;= 05 00
        DEFW 6 AND 3,6 OR 3,6 XOR 3 ;= 02 00 07 00 05 00
        DEFW 1=1 AND 2=2        ;= FF FF        ; -1 AND -1
        DEFW 1=1 AND 2=3        ;= 00 00
        DEFW NOT 0 AND 5        ;= 05 00        ; (NOT 0) AND 5, not NOT (0 AND 5) = -1
        DEFW 6 XOR 3 AND 1      ;= 07 00        ; 6 XOR 1, not 5 AND 1 = 1
        DEFW 1 OR 3 XOR 1       ;= 03 00        ; 1 OR 2, not 3 XOR 1 = 2
        DEFW 4 OR 2 AND 1       ;= 04 00        ; 4 OR 0, not 6 AND 1 = 0
        DEFW 1=2 OR 3=3         ;= FF FF
        DEFW 5 AND NOT 1        ;= 04 00
        DEFW 1 OR 2=3           ;= 01 00        ; 1 OR (2=3)
        DEFW 1 AND 3&2          ;= 00 00        ; 1 AND 2
        DEFW not 0 and 1 or 2   ;= 03 00
; --- in instructions
        AND ~80H                ;= E6 7F        ; -129 is within -256..255
        OR 1<<7                 ;= F6 80
        LD A,-1                 ;= 3E FF
        LD A,HIGH 8000H         ;= 3E 80
        LD BC,80H SHL 8         ;= 01 00 80
        LD A,(1=1) AND 5        ;= 3E 05        ; begins and ends outside one pair of parentheses: a value
; --- 64 bits inside
        DEFB 0FFFFFFFFFFFFH>>44 ;= 0F           ; 48 ones, 44 shifted out
        DEFB 9223372036854775807 MOD 256 ;= FF
        DEFB 7FFFFFFFFFFFFFFFH AND 7FH ;= 7F
        DEFB (-9223372036854775807-1)>>63 ;= FF
