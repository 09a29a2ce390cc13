; INCLUDE in every spelling; what is found beside the including file (section 5).
; Marks of included lines stand in the included files.
        CAPACITY 512
        DEFB 1                  ;= 01
        INCLUDE "include-a.inc"
        DEFB 2                  ;= 02
        include 'include-b.inc'
        .include "include-c.inc"
        #include "include-d.inc"
        INCLUDE include-e.inc
INCLUDE "include-f.inc"
lab:    INCLUDE "include-g.inc"
        DEFW lab,from_a,sub_lab ;= 0B 00 01 00 0C 00
        INCLUDE "include-crlf.inc"
        INCLUDE "include-last.inc"
        DEFB 3                  ;= 03           ; the included file's last line had no newline
        INCLUDE "include-end.inc"
        DEFB 4                  ;= 04           ; END ended the included file only
