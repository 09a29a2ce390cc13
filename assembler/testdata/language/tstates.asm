; TSTATES and LAP: T-states from the CPU manual's tables, added up by hand (section 5).
        CAPACITY 512
; LD r,n 7, NOP 4: 11
t1:     LD B,5                  ;= 06 05
        NOP                     ;= 00
t1_end:
        REQUIRE TSTATES(t1,t1_end) = 11
        REQUIRE tstates( t1 , t1_end ) = 11
        DEFB TSTATES(t1,t1_end) ;= 0B
; conditional ones as not taken: JR NZ 7, RET Z 5, CALL NC 10, JP M 10, DJNZ 8, LDIR 16, CPIR 16, OTIR 16: 88
t2:     JR NZ,t2                ;= 20 FE
        RET Z                   ;= C8
        CALL NC,t2              ;= D4 04 00
        JP M,t2                 ;= FA 04 00
        DJNZ t2                 ;= 10 F5
        LDIR                    ;= ED B0
        CPIR                    ;= ED B1
        OTIR                    ;= ED B3
t2_end: NOP                     ;= 00
        DEFB TSTATES(t2,t2_end) ;= 58
; the unconditional: JR 12, JP 10, CALL 17, RET 10, PUSH 11, POP 10, LD HL,(nn) 16, LD A,(nn) 13,
; EX (SP),HL 19, INC (HL) 11, SET b,(HL) 15, BIT b,(HL) 12, LD r,(IX+d) 19, INC (IX+d) 23, LD (IX+d),n 19,
; IN A,(n) 11, OUT (C),r 12, RST 11, ADD HL,rr 11, ADC HL,rr 15, INC rr 6, LD SP,HL 6, LD A,I 9, RLD 18, NEG 8, IM 1 8,
; 12+10+17+10 = 49; +11+10+16+13 = 99; +19+11+15+12 = 156; +19+23+19 = 217; +11+12+11 = 251; +11+15+6+6 = 289; +9+18+8+8 = 332
t3:     JR t3_end               ;= 18 31
        JP t3_end               ;= C3 4A 00
        CALL t3_end             ;= CD 4A 00
        RET                     ;= C9
        PUSH BC                 ;= C5
        POP BC                  ;= C1
        LD HL,(1234H)           ;= 2A 34 12
        LD A,(1234H)            ;= 3A 34 12
        EX (SP),HL              ;= E3
        INC (HL)                ;= 34
        SET 0,(HL)              ;= CB C6
        BIT 0,(HL)              ;= CB 46
        LD B,(IX+1)             ;= DD 46 01
        INC (IX+1)              ;= DD 34 01
        LD (IX+1),2             ;= DD 36 01 02
        IN A,(1)                ;= DB 01
        OUT (C),B               ;= ED 41
        RST 8                   ;= CF
        ADD HL,BC               ;= 09
        ADC HL,BC               ;= ED 4A
        INC BC                  ;= 03
        LD SP,HL                ;= F9
        LD A,I                  ;= ED 57
        RLD                     ;= ED 6F
        NEG                     ;= ED 44
        IM 1                    ;= ED 56
t3_end:
        DEFW TSTATES(t3,t3_end) ;= 4C 01
; LAP: the last instruction jumps to p and counts as taken
; IN A,(n) 11, AND n 7, JR Z 12 taken: 30
poll:   IN A,(10H)              ;= DB 10
        AND 1                   ;= E6 01
        JR Z,poll               ;= 28 FA
poll_end:
        REQUIRE LAP(poll,poll_end) <= 60, "polling too slow"
        REQUIRE LAP(poll,poll_end) = 30
        REQUIRE TSTATES(poll,poll_end) = 25
; a delay of n laps of DJNZ: 13 each, 8 the last: (n-1)*13+8
wait:   LD B,100                ;= 06 64
.lap:   DJNZ .lap               ;= 10 FE
.end:   RET                     ;= C9
        DEFW 99*LAP(wait.lap,wait.end)+TSTATES(wait.lap,wait.end) ;= 0F 05    ; 1287+8 = 1295 = 50FH
; JP, JP cc and DJNZ as the last, remarks, labels and EQUs between
l2:     DEC A                   ;= 3D
l2_mid: NOP                     ;= 00
konst   EQU 5
        JP NZ,l2                ;= C2 59 00
l2_end:
        DEFB LAP(l2,l2_end)     ;= 12           ; 4+4+10
        DEFB TSTATES(l2,l2_mid) ;= 04
; forward: the span may stand later
        DEFB TSTATES(f1,f1_end) ;= 15           ; 11+10
f1:     PUSH AF                 ;= F5
        POP AF                  ;= F1
f1_end:
; from a macro's expansion, and in RUNAT
nops    MACRO n
        REPT n
        NOP
        ENDM
        ENDM
m1:     nops 5                  ;= 00*5
m1_end: DEFB TSTATES(m1,m1_end) ;= 14
        RUNAT 8000H
r1:     NOP                     ;= 00
        JR r1                   ;= 18 FD
r1_end:
        ENDRUNAT
        DEFB LAP(r1,r1_end)     ;= 10           ; 4+12
