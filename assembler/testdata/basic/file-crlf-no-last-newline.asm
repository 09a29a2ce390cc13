; CRLF, and the last line has no newline.
	CAPACITY 8
	DI		;= F3
	HALT		;= 76