; Remarks in UTF-8: Größe, 速度, Ωmega, é (section 1).
        CAPACITY 16
        LD A,10                 ; Verzögerung 10 µs ;= 3E 0A
        DEFB "y"                ;→ ;= 79
