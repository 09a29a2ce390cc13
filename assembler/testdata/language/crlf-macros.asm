; CRLF, 1Ah, tabs and Latin-1 in a source with macros and conditionals.
	CAPACITY 64
put	MACRO v	; Größe
	DEFB v	; µs
	ENDM
	IF 1
	put 5		;= 05
	ELSE
	put 'x	; ä
	ENDIF
	REPT 2		;= 00 00
	NOP	; ü
	ENDM

	ENDIF never
