; One file read twice: its line carries the bytes of both readings.
        CAPACITY 64
which   DEFL 1
        INCLUDE "include-twice.inc"
which   DEFL 2
        INCLUDE "include-twice.inc"
        DEFB which              ;= 02
