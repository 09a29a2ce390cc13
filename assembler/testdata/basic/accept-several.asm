; ACCEPT takes several words and may come again; names win over half registers even then.
        CAPACITY 64
        ACCEPT undocumented, escapes
        .accept narrowing
        DEFB "\t"               ;= 09
        SLL C                   ;= CB 31
        DEFB 1FFH               ;= FF ;? narrowed
IXL     EQU 7
        LD A,IXL                ;= 3E 07
        LD A,IXH                ;= DD 7C
