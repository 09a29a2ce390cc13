; announces the departures over a serial line, one bit of a latch.
; operations in column 1 where there is no label; c-like hexadecimal.
capacity 4k
ram 2k, at 0x4000

TX_PORT = 0x40
TX_MASK = 0x80
BAUD_LAPS = 14
STACK_TOP = 0x4800

org 0
di
ld sp,STACK_TOP
ld a,TX_MASK
out (TX_PORT),a
jp main

org 0x100
main:
ld hl,timetable
ld b,departures
each_train:
push bc
call print_time
ld a,' '
call put_char
call print_text
call new_line
pop bc
djnz each_train
halt
jr main

; hl -> hour and minute, packed decimal
print_time:
ld a,(hl)
inc hl
call put_bcd
ld a,':'
call put_char
ld a,(hl)
inc hl
; falls through
put_bcd:
push af
rra
rra
rra
rra
call put_digit
pop af
put_digit:
and 0x0f
or '0'
; falls through
put_char:
push hl
push de
push bc
ld hl,latch
ld e,a
; start bit
ld a,(hl)
and ~TX_MASK
ld (hl),a
out (TX_PORT),a
ld d,8
call bit_time
put_bit:
srl e
jr c,put_one
ld a,(hl)
and ~TX_MASK
jr put_it
put_one:
ld a,(hl)
or TX_MASK
put_it:
ld (hl),a
out (TX_PORT),a
call bit_time
dec d
jr nz,put_bit
; stop bit
ld a,(hl)
or TX_MASK
ld (hl),a
out (TX_PORT),a
call bit_time
call bit_time
pop bc
pop de
pop hl
ret

bit_time:
ld b,BAUD_LAPS
bit_lap: djnz bit_lap
bit_lap_end:
ret

print_text:
ld a,(hl)
inc hl
or a
ret z
call put_char
jr print_text

new_line:
ld a,13
call put_char
ld a,10
jr put_char

timetable:
db 0x06,0x15,"slow train, all stations",0
db 0x07,0x05,"school's train",0
db 0x08,0x30,'express "morning star"',0
db 0x12,0x00,"goods; not for passengers",0
db 0x17,0x45,'the driver''s last',0
timetable_end:
departures = 5
require departures = 5
require timetable_end <= 0x400
require lap(bit_lap,bit_lap_end) = 13
dw main, put_char, timetable
ds 4, 0x00

org 0x4000
latch: ds 1
