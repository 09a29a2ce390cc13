; Labels and names (section 2).
        CAPACITY 512
start:  NOP                     ;= 00
   indented: LD A,1             ;= 3E 01
tight:LD A,2                    ;= 3E 02
two:                            ; alone on its line, at 5
        DEFW two                ;= 05 00
plain   LD B,3                  ;= 06 03
alone
        DEFW plain,alone        ;= 07 00 09 00
        DEFW start,indented,tight ;= 00 00 01 00 03 00
; operations in column 1, the counter is now 13H
NOP                             ;= 00
LD A,5                          ;= 3E 05
DEFB 1,2                        ;= 01 02
nop                             ;= 00
RET NZ                          ;= C0
RET                             ;= C9
Ld C,(hL)                       ;= 4E
DEFB 1,2                        ;= 01 02
halt                            ;= 76
ORG 20H
; a first word that is an operation is a label when another operation word follows
TEXT DB 5                       ;= 05
DB DB 6                         ;= 06
HALT NOP                        ;= 00
SET RES 0,A                     ;= CB 87
SUB LD A,1                      ;= 3E 01
        DEFW TEXT,DB,HALT,SET,SUB ;= 20 00 21 00 22 00 23 00 25 00
        ORG 40H
; a colon makes any word a name
INC:    INC A                   ;= 3C
AND:    AND B                   ;= A0
END:    NOP                     ;= 00
IF:     NOP                     ;= 00
        DEFW INC,AND,END,IF     ;= 40 00 41 00 42 00 43 00
        CALL INC                ;= CD 40 00
        JP END                  ;= C3 42 00
        JP NZ,AND               ;= C2 41 00
        LD HL,END-INC           ;= 21 02 00
        ORG 60H
; EQU, DEFL and = make any word a name, with or without colon, in column 1 or not
HX      EQU 26H
RLD     EQU 7
RRD:    EQU 8
  OUTI  EQU 9
CCF     = 10
SCF     DEFL 11
EXX: = 12
        DEFB HX,RLD,RRD,OUTI,CCF,SCF,EXX ;= 26 07 08 09 0A 0B 0C
        RLD                     ;= ED 6F
; letter case of a name counts
Foo     EQU 1
foo     EQU 2
FOO     EQU 3
        DEFB Foo,foo,FOO        ;= 01 02 03
; the characters of a name
_x      EQU 10H
?x      EQU 11H
@x      EQU 12H
x$1     EQU 13H
x_?@$.9 EQU 14H
x.y     EQU 15H
h       EQU 1FH
_       EQU 16H
?       EQU 17H
        DEFB _x,?x,@x,x$1,x_?@$.9,x.y,_,? ;= 10 11 12 13 14 15 16 17
FFH     EQU 18H                 ; begins with a letter: a name
B0      EQU 19H
        DEFB FFH,B0,FFH+1       ;= 18 19 19
; conditions and F are no reserved words where a value stands
NZ      EQU 20H
Z       EQU 21H
PE      EQU 22H
F       EQU 23H
M:      LD A,Z                  ;= 3E 21
        LD A,(NZ)               ;= 3A 20 00
        LD A,F                  ;= 3E 23
        JP PE                   ;= C3 22 00
        JP Z                    ;= C3 21 00
        JP Z,Z                  ;= CA 21 00
        CALL NZ,NZ+1            ;= C4 21 00
        RET Z                   ;= C8
; a register word with a colon is a label that can be named nowhere
A:      NOP                     ;= 00
HL:     NOP                     ;= 00
        LD A,A                  ;= 7F
; a user's name wins over an undocumented half register
IXH     EQU 33H
        LD A,IXH                ;= 3E 33
        ADD A,IXH               ;= C6 33
; the same name with the same value again is no error
SAME    EQU 5
SAME    EQU 2+3
again:
again:  DEFB SAME               ;= 05
; a label before ORG, DEFS or ALIGN is the address before they act
        ORG 100H
l1:     DEFS 3
l2:     ALIGN 16
l3:     ORG 140H
l4:     DEFW l1,l2,l3,l4        ;= 00 01 03 01 10 01 40 01
; a name of 255 characters
        ORG 160H
n23456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_12345: NOP ;= 00
        JP n23456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_123456789_12345 ;= C3 60 01
