; panel.asm flat: the same image.
        CAPACITY 512, BLANK 0
        RAM 1K, AT 0C000H
        ORG 0
        JP start
        ORG 8
        JP put_lamp
        ORG 40H
start:  LD SP,0C400H
        LD B,16
        LD D,2
        JR io_end
put_lamp:
        OUT (40H),A
        PUSH AF
        LD A,H
        OUT (41H),A
        POP AF
        RET
scan:   IN A,(43H)
        CPL
        LD H,A
scan1:  IN A,(44H)
        BIT 7,A
        JR Z,scan1
        RET
beep:   LD A,1
        OUT (42H),A
beep1:  DJNZ beep1
        XOR A
        OUT (42H),A
        RET
io_end: CALL beep
loop:   CALL scan
        RST 8
        JR loop
        OUT (0FEH),A
text:   DEFB "ready",13,10,0
tend:   DEFB 'short'
        DEFW text,tend,beep,put_lamp
