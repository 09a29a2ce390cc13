; yard.asm flat: the same image, twice in the file.
        CAPACITY 1K, COPIES 2
        ORG 0
        JP main
        DEFB 'yard',0
        ORG 38H
        JP tick
        ORG 66H
        JP panic
        ORG 80H
main:   LD SP,3000H
        LD HL,image
        LD DE,2000H
        LD BC,iend-image
        LDIR
top:    CALL check
        CALL move
        CALL tick
        JR top
check:  LD A,5
        LD HL,200
        RET
move:   JP 2000H
tick:   RET
panic:  HALT
        JR panic
image:  LD A,7
wait:   DJNZ wait
        NOP
        JP 2000H
ptr:    DEFW wait-image+2000H,iend-image+2000H
iend:   DEFW iend,tracks
        ORG 200H
tracks: DEFW 1
        DEFB 255
        DEFW 2
        DEFB 255
        DEFW 4
        DEFB 255
        ORG 300H
        DEFW 2100H,2102H,2104H
