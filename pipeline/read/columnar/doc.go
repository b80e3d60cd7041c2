// Package columnar reads Apache Parquet files and Arrow IPC files and streams.
//
// Channels. A column of numbers, truth values, texts or times is a channel; a field of a structure is one named outer.inner. A column
// of lists is left out, with a finding, unless time itself is one: then each row's lists are unfolded, and those of another length than
// time's are missing. A unit is the field's metadata under unit or units, else what stands in brackets at the end of the name.
//
// Clock. A column of a timestamp type that rises, else one whose name says time: a time of day, a duration, a number of seconds or of the unit
// that metadata or the name's ending says (_ns, _us, _ms, _s, _min). A whole number as large as a count from 1970 in s, ms, us
// or ns is one. A pair of whole seconds and nanoseconds within one structure is a clock too. Where an elapsed time stands beside
// timestamps it is the clock, and they say when it began. Whole numbers are taken apart before they become seconds, so that nanoseconds
// since 1970 keep their last digit. A time with a zone is an instant; one without is local.
//
// Rules. A row without a time is left out and counted. An elapsed time that falls back to near its beginning is a restart. An infinite
// value is missing, and counted. Rows come in batches of at most 4096; a row group's columns are read in a stream. What damage makes the
// decoder claim beyond 64 MiB and 32 times the file's size is refused. A failure leaves nothing behind.
//
//	err := columnar.Reader{}.Read(ctx, src, sink)
package columnar
