; ACCEPT pairs: LD of two register pairs as two loads, high half first, each with a warning.
        CAPACITY 64
        ACCEPT pairs
        LD HL,DE                ;= 62 6B ;? pair-load
        LD BC,HL                ;= 44 4D ;? pair-load
        LD DE,BC                ;= 50 59 ;? pair-load
        LD HL,BC                ;= 60 69 ;? pair-load
        ld de,hl                ;= 54 5D ;? pair-load
        LD BC,DE                ;= 42 4B ;? pair-load
