; options: --define SIDE=2 --define LOUD
; Station announcements: tables made by IRP, IRPC, DUP, EMBED and DEFL. See station-flat.asm.
        CAPACITY 4K, AT 1000H
        DEFINE VOICES 3
        #define STOPS 4

; one announcement: number, length, text with the last letter marked
say     MACRO n,text
        LOCAL z
n:      DEFB index
        DEFB z-text_of_&n
text_of_&n: DEFM text
        DEFB '.'+80H
z:
index   DEFL index+1
        ENDM
index   DEFL 0

entry:  JP main
; a jump table from names
        IRP place,<main,stop,go,entry>
        DEFW place
        ENDM
; the same table, low bytes and high bytes apart
        IRP part,<LOW,HIGH>
        IRP place,<main,stop,go,entry>
        DEFB part place
        ENDM
        ENDM
main:   LD SP,0FF00H
        IRPC r,BCDEHL
        LD r,0
        ENDM
        IRP rr,<BC,DE,HL>
        PUSH rr
        ENDM
        IF SIDE = 1
        LD A,'L'
        ELSEIF SIDE = 2
        LD A,'R'
        ENDIF
        IFDEF LOUD
        SET 7,A
        ENDIF
go:     OUT (VOICES),A
stop:   REPT STOPS
        IN A,(1)
        REPT 2
        RRCA
        ENDM
        JR C,stop
        ENDM
        HALT
        EMBED "station-chime.bin",2,6
chimes: INCBIN "station-chime.bin"
        say first,"mind the gap"
        say second,"doors close"
        say third,'all aboard'
        DEFW chimes,first,second,third,text_of_second
        DEFB index
        DEFB VOICES DUP(STOPS), 2 DUP(SIDE*16), 'x'
        IRPC d,0123456789
        DEFB '&d'-30H+'0',d
        ENDM
        ALIGN 16,0
up      DEFL 1
        REPT 20
        IF up > 100
        EXITM
        ENDIF
        DEFB up
up      DEFL up*3
        ENDM
