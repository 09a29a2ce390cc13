; RUNAT: bytes go on in ROM where they are; labels and $ are where the code will run (section 5).
        CAPACITY 256
        RAM 2K, AT 8000H
start:  LD HL,image             ;= 21 0E 00
        LD DE,8000H             ;= 11 00 80
        LD BC,image_end-image   ;= 01 11 00
        LDIR                    ;= ED B0
        JP entry                ;= C3 00 80
image:
        RUNAT 8000H
entry:  LD A,(flag)             ;= 3A 10 80     ; 8000H
loop:   DEC A                   ;= 3D           ; 8003H
        JR NZ,loop              ;= 20 FD        ; 8004H: 8003H-8006H = -3
        JP loop                 ;= C3 03 80     ; 8006H
        CALL rom                ;= CD 1F 00     ; 8009H
.here:  JR .here                ;= 18 FE        ; 800CH
        DEFW $                  ;= 0E 80        ; 800EH
flag:   DEFB 5                  ;= 05
        ENDRUNAT
image_end:
rom:    RET                     ;= C9
        DEFW flag,loop,$        ;= 10 80 03 80 20 00
