; options: --include-dir dir2 --include-dir sub
; A file that is not beside the including one is looked for in each --include-dir, in order.
        CAPACITY 64
        INCLUDE "only-dir2.inc"
        INCLUDE "deeper.inc"
        EMBED "lamp.bin",1,2    ;= A2 0D
        INCLUDE "both.inc"
