	CAPACITY 1K, BLANK 0
	RAM 256, AT 1000h
;
; Keypad of 4 rows and 4 columns: sets one of sixteen routes.
; Mixed habits: lower-case operations, Upper-case names, 0FFh numbers.
;
KeyRow	equ	0F0h		; output, one row low
KeyCol	equ	0F1h		; input, low nibble
Display	equ	0F2h		; seven segments
RouteA	equ	0F3h
RouteB	equ	0F4h
NoKey	equ	0FFh

	org	0
Start:	ld	sp,1100h
	ld	a,NoKey
	ld	(Last),a
	xor	a
	out	(RouteA),a
	out	(RouteB),a
Loop:	call	Scan
	ld	hl,Last
	cp	(hl)
	jr	z,Loop		; nothing new
	ld	(hl),a
	cp	NoKey
	jr	z,Loop		; a key was released
	call	Show
	call	SetRoute
	ld	bc,2000
	call	Delay
	jr	Loop

; Scan: A = 0..15 or NoKey
Scan:	ld	b,4		; rows left
	ld	c,11111110b	; the row that is low
	ld	d,0		; number of the row's first key
Scan1:	ld	a,c
	out	(KeyRow),a
	nop
	nop
	in	a,(KeyCol)
	and	0Fh
	cp	0Fh
	jr	nz,Scan2
	rlc	c
	ld	a,d
	add	a,4
	ld	d,a
	djnz	Scan1
	ld	a,NoKey
	ret
Scan2:	ld	e,a		; which column?
	ld	a,d
Scan3:	srl	e
	ret	nc
	inc	a
	jr	Scan3

Delay:	dec	bc
	ld	a,b
	or	c
	jr	nz,Delay
	ret

; Show the key in A as a digit
Show:	push	af
	ld	hl,Digits
	call	Index
	ld	a,(hl)
	cpl
	out	(Display),a
	pop	af
	ret

; SetRoute: the route's turnouts, a word from the table
SetRoute:
	push	af
	add	a,a
	ld	hl,Routes
	call	Index
	ld	a,(hl)
	out	(RouteA),a
	inc	hl
	ld	a,(hl)
	out	(RouteB),a
	pop	af
	ret

Index:	add	a,l		; HL = HL + A
	ld	l,a
	ret	nc
	inc	h
	ret

; segments  .gfedcba
Digits:	db	00111111b, 00000110b, 01011011b, 01001111b
	db	01100110b, 01101101b, 01111101b, 00000111b
	db	01111111b, 01101111b, 01110111b, 01111100b
	db	00111001b, 01011110b, 01111001b, 01110001b
Routes:	dw	0001h,0002h,0004h,0008h
	dw	0010h,0020h,0040h,0080h
	dw	0100h,0200h,0400h,0800h
	dw	1000h,2000h,4000h,8000h
RoutesEnd:
	dw	2 dup (0FFFFh)
	db	3 dup ('x'), 'end'
	defm	"keys"
	require	RoutesEnd-Routes = 32, "sixteen routes"
	org	3F0h
	jp	Start
	org	1000h
Last:	ds	1
	end
