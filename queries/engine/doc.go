// Package engine answers SQL over one snapshot of the lake, and can reach nothing else.
//
// Terms. A session is an in-memory database with the lake's views: runs, samples, segments, curves, sources, unmapped, findings
// (the tables of schema.Tables, unmapped unfolded to a row a value), vehicles and limits. Admission is the reading of a statement's
// parsed tree before it is run; a statement that is not admitted is refused, and the refusal says what and where.
//
// Invariants. A session sees the files that its snapshot lists, all of them and no other, for as long as it is open: files are
// never found by pattern, and are opened when a statement first reads them. Columns are matched by field id, so files of any age
// give the same columns, NULL where a file has none. Nothing is ever written but temporary files, of what
// goes beyond the memory limit and of the curves of a part of the vehicles, in a folder of the session's own. A call runs one statement, a SELECT or its EXPLAIN, which may name the views, its own common
// table expressions, the functions of functions.txt and the macros of macros.sql. Beneath that the database is closed too: no
// file outside the lake's tables, no network, no extension, no change of a setting. Rows are computed as they are read, and a
// cancellation or the time limit interrupts them anywhere, save within one call of a function on one value. The time zone is
// UTC; division by zero gives NULL. A session that is renewed gets a fresh database beneath it and answers as before.
//
// What a failure leaves behind: nothing in the lake. A killed process may leave a folder dynolake-query-* among the system's
// temporary files.
//
//	s, err := engine.Open(ctx, snapshot, engine.Options{Vehicles: vehicles})
//	defer s.Close()
//	rows, err := s.Query(ctx, "SELECT platform, count(*) AS runs FROM runs WHERE test = $test GROUP BY 1 ORDER BY 1", sql.Named("test", "sweep"))
package engine
