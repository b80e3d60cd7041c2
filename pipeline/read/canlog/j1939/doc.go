// Package j1939 knows SAE J1939: how a 29-bit id is made up, how messages longer than a frame are carried, and where the
// parameters lie that a calibrator reads.
//
// Terms. A PGN names a parameter group, the content of a message whoever sends it. A source address (SA) is the control unit
// that sends. An SPN names a parameter. A PDU1 id carries a destination, a PDU2 id goes to all.
//
// spns.yaml is the one place of a parameter: its name, message, place, scale, unit and where the figures come from.
//
// Invariants. Raw values that stand for "not available" or an error are missing, never numbers. A multi-packet message is given
// out whole or not at all; sessions of several senders may be interleaved and a packet may be sent again. Memory is bounded.
//
//	id := j1939.Split(0x0CF00400)             // PGN F004 from source 00.
//	m, ok := j1939.Lookup(id.PGN)             // EEC1.
//	v := m.Signals[2].Value(data)             // Engine speed, NaN where it is missing.
package j1939
