// Package mdf4 writes ASAM MDF 4.10, so that other tools open what the lake holds.
//
// The form. Every group is a sorted data group of its own with one channel group: a time master and channels of 64-bit floats,
// all little-endian. Records are packed (transposed deflate, in blocks of at most 4 MiB under a list) unless Plain is set. A value
// that is missing is a NaN whose invalidation bit is set. A channel of texts alone is one of texts of any length in UTF-8; one
// that holds both numbers and a few texts is a number with a conversion from codes, which no number of it equals, to texts;
// with many different texts it becomes two channels, the second named with " (text)" behind.
//
// Names, units and comments are texts, the file's comment and properties stand in the header's XML, and the file history names
// the program. Start is the header's time; a local one is marked so.
//
// Invariants. The same File gives the same bytes. The identification is written last: what an interruption leaves has none and
// is no MDF file. Memory holds one block packed and plain beside what the caller holds.
//
//	err := mdf4.Write(f, mdf4.File{Start: start, Groups: []mdf4.Group{{Name: "run", Clock: clock, T: t, Channels: channels}}})
package mdf4
