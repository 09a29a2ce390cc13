; END without an address, in column 1; what follows makes no sense.
CAPACITY 16
NOP                             ;= 00
END
)))( 'x
