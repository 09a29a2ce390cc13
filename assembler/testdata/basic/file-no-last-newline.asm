; The last line has no newline (section 1).
        CAPACITY 16
        LD B,2                  ;= 06 02
        RST 38H                 ;= FF