; The marshalling yard: everything at once. Macros from an included file that include files themselves,
; conditionals inside macros inside RUNAT, ORG down and up, COPIES. See yard-flat.asm.
        CAPACITY 1K, COPIES 2
        RAM 4K, AT 2000H
        INCLUDE "yard-macros.inc"
TRACKS  EQU 3
        ORG 200H
; the table stands above the code that was written later
tracks: table TRACKS
        ORG 0
        program
        vector 38H,tick
        vector 66H,panic
        ORG 80H
main:   begin
        forever
        call_all <check,move,tick>
        again
check:  want 5
        want 200
        RET
move:   code_for move_ram
tick:   RET
panic:  HALT
        JR panic
image:
        RUNAT 2000H
move_ram:
        want 7
.wait:  DJNZ .wait
        IF $ - move_ram > 4
        want 8
        ELSE
        NOP
        ENDIF
        JP move_ram
        DEFW move_ram.wait,ram_end
ram_end:
        ENDRUNAT
image_end:
        DEFW image_end,tracks
        ORG 2100H
        variables A,B,C
        ORG 300H
        DEFW var_A,var_B,var_C
