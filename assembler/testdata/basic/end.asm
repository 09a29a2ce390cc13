; END ends the file and gives the entry address (section 5).
;@ entry 0102
        CAPACITY 1K
        ORG 100H
        DEFW 0                  ;= 00 00
main:   NOP                     ;= 00
        END main
        LD A,99999
this is not read 'at all
        ENDIF
