; options: --capacity 8K
; led chaser for the platform lights, eight lamps on one port.
; the pattern is taken from a table; the speed from a four-bit switch.

        .org    $0000

lamps:      .equ    $10         ; output port
speed:      .equ    $11         ; input port, low four bits
stack:      .equ    $9000
rate:       .equ    250

start:
        di
        ld      sp,stack
        ld      a,%00000001
        ld      (state),a
        ld      hl,patterns
        ld      (which),hl

next_pattern:
        ld      hl,(which)
        ld      a,(hl)
        cp      $ff             ; end of the table
        jr      nz,.go
        ld      hl,patterns
        ld      (which),hl
        ld      a,(hl)
.go:    ld      b,a             ; how many steps
        inc     hl
.step:  ld      a,(hl)
        cpl                     ; lamps light on a low output
        out     (lamps),a
        inc     hl
        push    bc
        push    hl
        call    pause
        pop     hl
        pop     bc
        djnz    .step
        ld      (which),hl
        jr      next_pattern

; wait as long as the switch says: (switch+1) * rate * 256 laps
pause:
        in      a,(speed)
        and     $0f
        inc     a
        ld      d,a
.outer: ld      e,rate
.mid:   ld      b,0
.inner: djnz    .inner
        dec     e
        jr      nz,.mid
        dec     d
        jr      nz,.outer
        ret

; a table of patterns: number of steps, then the steps
patterns:
        .db     8
        .db     %00000001,%00000010,%00000100,%00001000
        .db     %00010000,%00100000,%01000000,%10000000
        .db     6
        .db     %01000000,%00100000,%00010000,%00001000,%00000100,%00000010
        .db     8
        .db     $81,$42,$24,$18,$18,$24,$42,$81
        .db     4
        .db     0b1111_0000, 0b0000_1111, 0xf0, 0x0f
        .db     2
        .db     $aa,$55
        .db     2
        .db     $aa,$55
        .db     1, 0
        .db     $ff
patterns_end:

size:   .equ    patterns_end-patterns
        .dw     size,start,next_pattern.go,pause.inner
        .byte   "platform lights",0
        .text   'v'
        .block  2,$ee
        .align  16,0
here:   .word   here,$

        .org    $8000
state:  .ds     1
which:  .ds     2
        .end
