; Control panel: built from parts, with conditionals for what is fitted.
; panel-flat.asm is the same program flat; both give the same image.
        INCLUDE "panel-config.inc"
        CAPACITY chip_size, AT 0, BLANK 0
        IF has_ram
        RAM ram_size, AT ram_base
        ENDIF
        ORG 0
        JP start
        IFDEF USE_RST
        ORG 8
        JP put_lamp
        ENDIF
        ORG 40H
start:
        IF has_ram
        LD SP,ram_base+ram_size
        ELSE
        LD SP,0
        ENDIF
        IF lamps = 8
        LD B,8
        ELSEIF lamps = 16
        LD B,16
        LD D,2
        ELSE
        REQUIRE 0, "eight or sixteen lamps"
        ENDIF
        INCLUDE "panel-io.inc"
        IFNDEF QUIET
        CALL beep
        ENDIF
loop:   CALL scan
        IFDEF USE_RST
        RST 8
        ELSE
        CALL put_lamp
        ENDIF
        JR loop
        IFDEF PANEL-2           ; the second board has a watchdog
        OUT (0FEH),A
        ENDIF
        IFDEF PANEL-3
        OUT (0FFH),A
        ENDIF
text:   INCLUDE "panel-text.inc"
after_text:
        IF $ > 100H
        DEFB 'long'
        ELSE
        DEFB 'short'
        ENDIF
        DEFW text,after_text,beep,put_lamp
        END start
        everything after END is not read (
