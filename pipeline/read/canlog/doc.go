// Package canlog reads CAN bus logs in the text forms of candump: diagnostic answers (OBD-II), SAE J1939 messages, and whatever
// a CAN database names.
//
// The form. A line a frame, in the five spellings that package frame reads. A log without times cannot be placed and is refused.
//
// Decoding. A frame belongs to the first that knows it: a database's message of exactly this id, or in a J1939 database of its
// parameter group; a request or answer of on-board diagnostics by its id; a J1939 parameter group of the built-in table. Where a
// database names only some of a J1939 message, the built-in table gives the others; where the two place the same bits
// differently the database's reading is kept, with a finding. Messages over several frames are put together first (packages isotp
// and j1939). Torque in per cent becomes N·m where the same control unit sends its reference torque.
//
// Groups. One a bus, message and source, or PID of a control unit, each on its own clock: "can1 EEC1 F004 from 00", "can0 OBD 0C
// from 7E8". What depends on a selector is a group for each of its readings.
//
// A log of which nothing is known gives the frames a second of each bus, so that it is kept and read anew when a database is added.
//
// Clocks. Seconds from 1970 as logged, Start 1970 in UTC; seconds as logged, without a Start; a date and time, from the first
// line's, which is Start, without a zone. Small steps back are passed on untouched. A fall to near the beginning is a restart;
// another fall of a second or more is bridged, for all groups alike. Times between frames (candump -t d) are added up.
//
// Values that J1939 reserves for "not available" and errors are missing. Value tables give texts.
//
// Invariants. One pass; memory is bounded by batches, by one message for each control unit, and by counts for at most some
// thousand ids. What is not understood is counted by id in a finding; lines that are no frame, too; a failure leaves nothing behind.
//
//	db, err := dbc.Parse("truck.dbc", text)
//	err = canlog.Reader{Databases: []dbc.Database{db}}.Read(ctx, src, sink)
package canlog
