; Two blocks at the same run address, a table inside, spelled with dots and in lower case; ALIGN counts there too.
        CAPACITY 256
run     EQU 4000H
        .runat run
a_tab:  DEFW a_tab,a_tab.end    ;= 00 40 04 40
.end:
        .endrunat
        DEFW $                  ;= 04 00
        runat run+1
b_tab:  DEFW b_tab              ;= 01 40
        ALIGN 4,0EEH            ;= EE           ; from 4003H to 4004H
b_al:   DEFW b_al               ;= 04 40
        endrunat
        DEFW $,a_tab,b_tab      ;= 0B 00 00 40 01 40
        RUNAT 0FFFEH
        NOP                     ;= 00
        NOP                     ;= 00
        ENDRUNAT
        DEFW $                  ;= 13 00
