// Package frame reads one line of a candump text log.
//
// The form. Five spellings are read, as the Linux can-utils program candump writes them: the log form
// `(1594172461.968006) can0 0C8#F000` with an optional T or R behind it; columns with a date, with seconds or with no time,
// `(002.047817) can0 0C8 [8] F0 00 …`; and CAN FD in log form, `0C8##1F000`. Columns may carry the direction and flags of
// -x and the ASCII of -a.
//
// Terms. A stamp is what stands in the brackets. An id of more than three digits is extended (29 bit). An error frame reports
// the bus's state and carries no data of a control unit; a remote frame asks for one.
//
// Invariants. A frame's bytes are those written: a stated length that does not match them is an error. Nothing is kept between
// lines, and Parse allocates nothing on good lines. A line that is cut is an error, never a shorter frame.
//
//	var f frame.Frame
//	err := frame.Parse([]byte("(1594172461.968006) can0 0C8#F000"), &f)
package frame
