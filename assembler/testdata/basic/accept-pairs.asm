; ACCEPT pairs: LD of two register pairs as two loads, high half first, each with a warning.
        CAPACITY 64
        ACCEPT pairs
        LD HL,DE                ;= 62 6B ;? .
        LD BC,HL                ;= 44 4D ;? .
        LD DE,BC                ;= 50 59 ;? .
        LD HL,BC                ;= 60 69 ;? .
        ld de,hl                ;= 54 5D ;? .
        LD BC,DE                ;= 42 4B ;? .
