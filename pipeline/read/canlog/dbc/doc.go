// Package dbc reads CAN databases: text files that say which signals the messages of a bus carry and where their bits lie.
//
// The form, as it is openly known. BO_ begins a message with its id (bit 31 set: 29 bits), name and length; SG_ lines below give
// its signals: start bit, length, byte order (@1 little-endian, @0 big-endian with the start at the highest bit), sign, factor and
// offset, range and unit. M marks the signal that selects among others, m3 one that is there when it reads 3, m3M both;
// SG_MUL_VAL_ gives the selector and its ranges where there are several. VAL_ and VAL_TABLE_ give texts, SIG_VALTYPE_ 32- and
// 64-bit floats, CM_ comments, BA_ attributes such as a signal's SPN. Other sections are passed over. Texts are UTF-8, else
// Windows-1252; lines end in any way.
//
// Terms. A database is one such file. A message of a J1939 database stands for a parameter group, whoever sends it.
//
// Invariants. Parse gives the whole database or an error that begins with file:line:column; it keeps no reference to its input,
// and what it allocates is bounded by a small multiple of it. A database is not changed afterwards and may be shared.
//
//	db, err := dbc.Parse("truck.dbc", text)
//	m, ok := db.Find(0x0CF00400, true)
//	raw, ok := m.Signals[0].Raw(data)
//	v := m.Signals[0].Of(raw)
package dbc
