; The plain directives and their other spellings, with and without a dot, in any letter case (section 5).
        capacity 1K
; --- DEFB
        DEFB 1,2,'ab',"c"       ;= 01 02 61 62 63
        DB 1                    ;= 01
        DEFM 'text'             ;= 74 65 78 74
        DM "t"                  ;= 74
        BYTE 2                  ;= 02
        TEXT 'x'                ;= 78
        ASCII 'y',0             ;= 79 00
        .DEFB 1                 ;= 01
        .db 1                   ;= 01
        .defm 'te'              ;= 74 65
        .dm "t"                 ;= 74
        .byte 2                 ;= 02
        .text "x"               ;= 78
        .ascii "y"              ;= 79
        defb 3 DUP(5)           ;= 05 05 05
        DB 1,2 DUP(0FFH),3      ;= 01 FF FF 03
COUNT   EQU 2
        db COUNT dup ( 1+1 )    ;= 02 02
        DB 20H DUP(0)           ;= 00*32
; --- DEFW
        DEFW 1234H,1            ;= 34 12 01 00
        DW 0ABCDH               ;= CD AB
        WORD 1                  ;= 01 00
        .defw 1                 ;= 01 00
        .dw 2                   ;= 02 00
        .word 3                 ;= 03 00
        DW 2 DUP(1234H)         ;= 34 12 34 12
        DEFW later,'AB'         ;= EF BE 42 41
later   EQU 0BEEFH
; --- EQU, = and DEFL
e1      EQU 1
e2      .EQU 2
e3      = 3
e4:     equ 4
e5      equ e6                  ; a chain of forward EQUs
e6      equ e7+1
e7      equ 4
  e8    .equ 8
v       DEFL 1
        DEFB e1,e2,e3,e4,e5,e6,e7,e8,v ;= 01 02 03 04 05 05 04 08 01
v       DEFL v+1
        DEFB v                  ;= 02
v       .defl v*8
        DEFB v                  ;= 10
; --- ORG up and down, moving freely where nothing is emitted
        ORG 100H
        DEFB 0AAH               ;= AA
        .org 1F0H
        DEFB 0BBH               ;= BB
        org 180H
        DEFB 0CCH               ;= CC
        RAM 3, AT 4000H
        ORG 4000H               ; outside the chip: nothing is emitted here
var1:   DEFS 2
var2    DEFS 1
        ORG 190H
        DEFW var1,var2          ;= 00 40 02 40
; --- DEFS
        ORG 200H
d1:     DEFS 4
d2:     DS 2
d3      BLOCK 1
d4      .ds 3
d5      .block 1
d6:     .defs 0
        DEFS 3,0FFH             ;= FF FF FF
        DS 2,'x'                ;= 78 78
        DEFS 2*2,1+1            ;= 02 02 02 02
        DS 40H,0                ;= 00*64
        DEFB low d1,low d2,low d3,low d4,low d5,low d6 ;= 00 04 06 07 0A 0B
; --- ALIGN
        ORG 281H
        ALIGN 4                 ; to 284H
        DEFB $ & 0FFH           ;= 84
        ALIGN 8,0EEH            ;= EE EE EE     ; 285H to 288H
        ALIGN 8,0EEH            ; already there
        DEFB low $              ;= 88
        .align 10,0             ;= 00           ; 289H = 649, next multiple of 10 is 650 = 28AH
        ALIGN 1
        DEFB low $              ;= 8A
        ALIGN 256
        DEFW $                  ;= 00 03
; --- RAM: where bytes may be reserved
        RAM 2K, AT 8000H
        ram 16, at 0C000H
        ORG 8000H
r1:     DEFS 2048
r2:                             ; one past the end is fine
        ORG 0C000H
r3:     DEFS 16
        ORG 310H
        DEFW r1,r2,r3           ;= 00 80 00 88 00 C0
; --- REQUIRE
        REQUIRE 1=1
        REQUIRE r2-r1 = 2048, "the buffer fills the RAM"
        .require after > r3 OR 1, 'known later'
        REQUIRE 5
after   EQU 0
