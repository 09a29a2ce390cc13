; DEFINE: a symbol for the conditionals, 1 if no value is given (section 5).
        CAPACITY 64
        DEFINE DEBUG
        define LEVEL 3
        .define RATE LEVEL*2
        #DEFINE BOARD-2
        DEFINE FLAG ; nothing more
        IFDEF DEBUG
        DEFB 1                  ;= 01
        ENDIF
        IF DEBUG = 1 AND LEVEL = 3
        DEFB 2                  ;= 02
        ENDIF
        DEFB DEBUG,LEVEL,RATE,FLAG ;= 01 03 06 01
; a name that is no symbol name can only be asked for
        IFDEF BOARD-2
        DEFB 3                  ;= 03
        ENDIF
        IFNDEF BOARD-3
        DEFB 4                  ;= 04
        ENDIF
        IFDEF BOARD
        DEFB 5
        ENDIF
