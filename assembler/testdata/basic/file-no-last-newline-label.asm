; The last line is a lone label and has no newline (section 1).
        CAPACITY 4
        JP last                 ;= C3 03 00
last