; ACCEPT any-case: labels meet in any letter case.
        CAPACITY 64
        ACCEPT any-case
Foo:    NOP                     ;= 00
        JP FOO                  ;= C3 00 00
        JP foo                  ;= C3 00 00
.Loop:  JR .LOOP                ;= 18 FE
        JP fOO.lOOP             ;= C3 07 00
Five    EQU 5
        LD A,FIVE               ;= 3E 05
