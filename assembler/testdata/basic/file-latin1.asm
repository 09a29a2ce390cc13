; Remarks may hold any bytes: Latin-1 äöüß ©, code page 437 „”, lone continuation ¿¿ (section 1).
        CAPACITY 16
        LD A,10                 ; Verzögerung ;= 3E 0A
        DEFB 'x'                ;ÿş ;= 78
        EX AF,AF'               ;´tis it's ;= 08
