; options: --define FAST --define lamps=5 --define ROOM-7
; --define gives the same kind of symbol.
        CAPACITY 64
        IFDEF FAST
        DEFB FAST               ;= 01
        ENDIF
        IFDEF ROOM-7
        DEFB 7                  ;= 07
        ENDIF
        IF lamps > 4
        DEFB lamps              ;= 05
        ENDIF
        IFNDEF SLOW
        DEFB 9                  ;= 09
        ENDIF
