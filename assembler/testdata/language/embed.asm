; EMBED: a file's bytes, whole or in part. pattern.bin is 10 11 12 13 14 15 16 17.
        CAPACITY 256
off     EQU 3
len     EQU 2
        EMBED "pattern.bin"     ;= 10 11 12 13 14 15 16 17
        INCBIN "pattern.bin"    ;= 10 11 12 13 14 15 16 17
        embed 'pattern.bin',6   ;= 16 17
        .incbin "pattern.bin",2,3 ;= 12 13 14
        EMBED "pattern.bin",7,1 ;= 17
lab:    EMBED "pattern.bin",0,2 ;= 10 11
here    EMBED "sub/lamp.bin"    ;= A1 A2 0D 0A 1A 00
        EMBED "pattern.bin",8
        EMBED "pattern.bin",3,0
        EMBED "empty.bin"
        EMBED "pattern.bin",off,len ;= 13 14
        DEFW lab,here,$         ;= 16 00 18 00 20 00
