; What may be known only later (section 6): values, never sizes.
        CAPACITY 256
        LD A,later              ;= 3E 12
        LD HL,label             ;= 21 3C 00
        LD (IX+later),later+1   ;= DD 36 12 13
        JR label2               ;= 18 31        ; at 9, target 3CH: 3CH-0BH
        BIT later-12H,B         ;= CB 40
        DEFB later,label2-label ;= 12 00
        DEFW chain              ;= 3D 00
        OUT (later),A           ;= D3 12
        IN A,(later)            ;= DB 12
        JP NZ,label             ;= C2 3C 00
        CALL label              ;= CD 3C 00
chain   EQU chain2
chain2  EQU chain3+1
chain3  EQU label
        ORG 3CH
label:
label2: RET                     ;= C9
later   EQU 12H
