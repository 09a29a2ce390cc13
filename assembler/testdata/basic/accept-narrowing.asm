; ACCEPT narrowing: bytes and words that are too large keep their low bits, each with a warning.
        CAPACITY 64
        ACCEPT narrowing
        LD A,300                ;= 3E 2C ;? 300
        LD HL,12345H            ;= 21 45 23 ;? .
        DEFB 256,5              ;= 00 05 ;? 256
        DEFW 65536              ;= 00 00 ;? 65536
        LD A,-257               ;= 3E FF ;? -257
        LD A,255                ;= 3E FF
