; One name in both branches; sizes that depend on the branch.
        CAPACITY 64
wide    EQU 1
        IF wide
step    EQU 2
table:  DEFW 1,2,3              ;= 01 00 02 00 03 00
        ELSE
step    EQU 1
table:  DEFB 1,2,3
        ENDIF
        DEFB ($ - table)/step   ;= 03
