; ACCEPT overlap: the last byte wins, each use with a warning.
;@ cell 0000 = 01 0A 0B 04
        CAPACITY 16
        ACCEPT overlap
        DEFB 1,2,3,4            ;= 01 04        ; what is left of it
        ORG 1
        DEFB 10,11              ;= 0A 0B ;? overwritten
