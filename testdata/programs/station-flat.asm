; station.asm written out: the same image.
        CAPACITY 4K, AT 1000H
entry:  JP main
        DEFW main,stop,go,entry
        DEFB LOW main,LOW stop,LOW go,LOW entry
        DEFB HIGH main,HIGH stop,HIGH go,HIGH entry
main:   LD SP,0FF00H
        LD B,0
        LD C,0
        LD D,0
        LD E,0
        LD H,0
        LD L,0
        PUSH BC
        PUSH DE
        PUSH HL
        LD A,'R'
        SET 7,A
go:     OUT (3),A
stop:   IN A,(1)
        RRCA
        RRCA
        JR C,stop
        IN A,(1)
        RRCA
        RRCA
        JR C,stop
        IN A,(1)
        RRCA
        RRCA
        JR C,stop
        IN A,(1)
        RRCA
        RRCA
        JR C,stop
        HALT
        DEFB 0A0H,90H,80H,70H,60H,70H
chimes: DEFB 80H,90H,0A0H,90H,80H,70H,60H,70H,1AH,0
first:  DEFB 0,13,'mind the gap',0AEH
second: DEFB 1,12
second_text: DEFB 'doors close',0AEH
third:  DEFB 2,11,'all aboard',0AEH
        DEFW chimes,first,second,third,second_text
        DEFB 3
        DEFB 4,4,4,20H,20H,'x'
        DEFB '0',0,'1',1,'2',2,'3',3,'4',4,'5',5,'6',6,'7',7,'8',8,'9',9
        ALIGN 16,0
        DEFB 1,3,9,27,81
