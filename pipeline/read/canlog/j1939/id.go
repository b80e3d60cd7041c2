package j1939

// ID is a 29-bit CAN id taken apart.
type ID struct {
	Priority    byte
	PGN         uint32 // With the extended data page and data page; the destination of a PDU1 message is not in it.
	PF, PS      byte
	Source      byte
	Destination byte // Of a PDU1 message; 0xFF, all, of a PDU2 one.
}

// Split takes a 29-bit id apart: priority 3 | EDP 1 | DP 1 | PF 8 | PS 8 | SA 8. Source: SAE J1939-21.
func Split(id uint32) ID {
	x := ID{Priority: byte(id>>26) & 7, PF: byte(id >> 16), PS: byte(id >> 8), Source: byte(id), Destination: 0xFF}
	x.PGN = id >> 8 & 0x3FF00
	if x.PF >= 240 {
		x.PGN |= uint32(x.PS)
	} else {
		x.Destination = x.PS
	}
	return x
}

// Available reports whether raw, of so many bits, is a value: neither "not available" nor an error indicator. Source: SAE
// J1939-71 table of transmitted values, as the FMS standard v02.00 restates it: 8 bits 00-FA, 16 bits 0000-FAFF and so on; two
// bits 10 error and 11 not available.
func Available(raw uint64, bits int) bool {
	switch {
	case bits >= 8:
		return raw>>(bits-8) <= 0xFA
	case bits == 1:
		return true
	case bits == 2 || bits == 4:
		return raw < 1<<bits-2
	}
	return raw < 1<<bits-1
}
