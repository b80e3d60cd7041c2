// Package mdf4 reads ASAM MDF, versions 4.00 to 4.20, from the published layout of its blocks.
//
// The form. A file is 64 bytes of identification and then blocks, each with a name of two letters, a length, links (file
// offsets) and data. The header (HD) links to data groups (DG), those to channel groups (CG) of one record layout each, those
// to channels (CN) with their conversions (CC) and texts (TX, or XML in MD). Records stand in DT blocks, packed ones in DZ,
// lists of either in DL under HL, texts of any length in SD, and since 4.20 columns of records in DV with their validity bytes
// in DI, listed in LD. A group with its own data and no record ids is sorted; otherwise records of several groups follow each
// other, each behind its id.
//
// Clocks. Every channel group with a time master is one schema.Group; groups that borrow a master (4.20) join the group that
// owns it. Time is the master after its conversion, in seconds, or in the unit it names; the header's time is Start, zoned
// unless it is marked as local. A group without a time master is set aside, one whose master is an angle, a distance or an
// index too. Masters without stored values are a formula of the row number. A clock whose span is absurd is a doubt; it is
// corrected only where a channel of Unix times in the same group steps in a fixed decimal proportion to it.
//
// Values. Integers of 1 to 64 bits and floats of 16, 32 and 64 in either byte order at any bit offset, and texts in UTF-8,
// UTF-16 or Latin-1; what an invalidation bit marks is missing. Integers beyond 2^53 are the nearest float64, noted. Arrays,
// byte arrays, media, dates in CANopen form and complex numbers are named in findings and left out, and so is a channel whose
// conversion cannot be understood: its raw numbers would look like values. A number that means nothing by its conversion (a state
// that no row of its table has, a division by zero) is missing, and counted. Events, attached files and frames of a bus are named.
//
// Rules for damage. What is wrong in a block costs what hangs on it, with a finding that names block and offset. Packed blocks
// are read to their checksum before a row of them is passed on. Where a record's length, the cycle counter and the data's
// length contradict each other, the two that agree win; where none agree the whole rows there are are passed on with a doubt,
// or none, when the record's own length is suspect. Nothing is reached twice, so links in a circle end. A file marked as
// unfinished is read without what its marks say is not up to date.
//
// Invariants. A source that cannot be read at random is spooled, above 4 MiB to a temporary file that has no name. Index blocks
// take at most 64 MiB, unpacked blocks 24 MiB each, two at a time; larger ones, and columns that do not fit together, are
// unpacked into a temporary file. What unpacks to more than 256 MiB and 200 times the file's size is refused. A failure leaves
// nothing behind.
//
//	err := mdf4.Reader{}.Read(ctx, src, sink)
package mdf4
