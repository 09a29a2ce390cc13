; Arithmetic for the speed trap: multiply, divide, square root, print decimal.
; Alias spellings throughout: add b, and a,b, cp a,n, sub a,n, rst 8, jp hl.
  capacity 2048
  accept undocumented
  org 0
  jp start
  ds 8-$,0c9h
rst8: ld a,(hl)         ; fetch a byte and step
  inc hl
  ret
  org 20h
start: ld sp,stack
  ld hl,cases
  ld b,ncases
.next: push bc
  ld e,(hl)
  inc hl
  ld d,(hl)
  inc hl
  rst 8
  ld c,a
  push hl
  call mul16x8
  call print
  pop hl
  pop bc
  djnz .next
  halt
; HL = DE * C
mul16x8: ld hl,0
  ld b,8
.bit: srl c
  jr nc,.skip
  add hl,de
.skip: sla e
  rl d
  djnz .bit
  ret
; HL / C: quotient HL, remainder A
div16x8: xor a,a
  ld b,16
.bit: add hl,hl
  rla
  jr c,.big
  cp a,c
  jr c,.small
.big: sub a,c
  inc l
.small: djnz .bit
  ret
; HL / DE: quotient BC, remainder HL, by restoring
div16: ld a,h
  ld c,l
  ld hl,0
  ld b,16
.bit: sll c
  rla
  adc hl,hl
  sbc hl,de
  jr nc,.fit
  add hl,de
  dec c
.fit: djnz .bit
  ld b,a
  ret
; A = square root of HL, by odd numbers
root: ld de,1
  ld b,0
.sub: or a
  sbc hl,de
  jr c,.done
  inc de
  inc de
  inc b
  jr .sub
.done: ld a,b
  ret
; negate HL
neg16: xor a
  sub l
  ld l,a
  sbc a
  sub h
  ld h,a
  ret
; print HL in decimal at the port, leading zeros as blanks
print: ld ix,powers
  ld c,' '
.digit: ld e,(ix)
  ld d,(ix+1)
  ld a,d
  or e
  jr z,.last
  ld b,'0'-1
.count: inc b
  and a
  sbc hl,de
  jr nc,.count
  add hl,de
  ld a,b
  cp a,'0'
  jr nz,.show
  ld a,c
.show: out 5,a
  cp a,' '
  jr z,.blank
  ld c,'0'
.blank: inc ix
  inc ix
  jr .digit
.last: ret
powers: dw 10000,1000,100,10,1,0
cases: dw 12
  db 12
  dw 255
  db 255
  dw 1000
  db 65
ncases = ($-cases)/3
jumper: ld hl,start
  and a,0fh
  add b
  adc 5
  sbc (hl)
  or a,(ix-1)
  jp hl
  jp ix
  ex af,af
  in a,10h
  out 10h,a
  ret
stack = 9000h
