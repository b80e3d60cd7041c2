// Package delimited reads logs that are delimited text, with no option given.
//
// The form. Lines of cells parted by commas, semicolons, tabs, bars or runs of blanks, with quotes as RFC 4180 has them and a
// little more loosely. Before the table may stand any preamble; it goes to the sink as notes. A row of names heads the table;
// units stand in the names or in a row of their own, comment marks before either are passed over, and a second row of names
// or of ids becomes the channels' comments. UTF-8, UTF-16 and Windows-1252 are read, with any line ending.
//
// Layouts. Wide: a column a channel and one clock. Paired: several clocks in one row, each beside its channels. Long: a row
// a value, with columns of time, name, value and unit; every name is a group.
//
// Clocks. A column is a clock when its name says time and its values do not contradict, or when it holds dates or times of
// day that rise. Times are seconds on the recorder's own clock: an elapsed time as logged, a count from 1970 as logged (its
// Start is 1970), a time of day from midnight (235959.5 too, where the header or a minute's end tells), a date and time from
// its first row (which is Start). Where a log has both an elapsed time and a date, the finer is the clock and the date gives
// Start. A clock that passes midnight, or whose m:ss passes the hour, is carried on. A time that falls to near its beginning
// is a restart. Smaller steps back are passed on untouched.
//
// Numbers. A decimal point or comma, found from the file, with or without thousands separators; the value equals
// strconv.ParseFloat's to the last bit. Blank, NaN, n.a., -, #N/A and their like are missing, and so is an infinity, which is
// counted. Any other text stays a text.
//
// Rules for damage. A row with fewer cells than the header lacks those at its end; cells beyond the header are left out; a row
// without a time is dropped; a last line without an ending that has fewer cells than the row before it, or an open quote, is
// dropped, for its last number may be cut; a line above 1 MiB is passed over. Each is counted, one finding a reason. A line
// that repeats the one before is kept as logged and counted.
//
// Invariants. One pass; memory is a window of lines, one batch a group and nothing that grows with the file. What cannot be
// read at all is an error that says what was looked for; a guess is a finding. A failure leaves nothing behind.
//
//	err := delimited.Reader{}.Read(ctx, src, sink)
package delimited
