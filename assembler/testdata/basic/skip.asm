; options: --skip title,PAGE,.list,z80,cpu,text
; Operations of a foreign source that are passed over; the rest of their lines is not read.
        TITLE   'It''s a heading (never closed
        CAPACITY 64
        page
        .z80
lab:    PAGE    60
        .list on
        DEFW lab                ;= 00 00
        #CPU "z80"
here    Title   what, ever )(
        DEFW here               ;= 02 00
        TEXT 'skipped: the option wins over the directive'
        DEFB 1                  ;= 01
