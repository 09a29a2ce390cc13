; Tabs and blanks are free, also inside operands (section 1).
	CAPACITY	32
a1:	LD	A , 5			;= 3E 05
 b1:	OUT($10),A			;= D3 10
	ld l , a			;= 6F
	LD A,( IX + 5 )			;= DD 7E 05
	ld (iy - 1) , a			;= FD 77 FF
	DEFB	1 ,	2,3		;= 01 02 03
	ADD	HL , BC	;= 09
	JP( HL )	;= E9
	EX(SP),HL	;= E3
	EX AF , AF'	;= 08
	DEFW a1,b1	;= 00 00 02 00
	
  	 ; a line of blanks and a remark
