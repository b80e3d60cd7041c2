// Package fleet asks what was published of another engine than the lake's own: ClickHouse, embedded or as a server.
//
// # Terms
//
// A publication is what `dynolake publish --as parquet` wrote: a folder or a bucket's prefix, and the files of one snapshot that
// its manifest names. A session asks one publication; its views have the names, columns and types of the lake's own session. The
// embedded engine is a library that is loaded when a session is opened, from the path in DYNOLAKE_CHDB; nothing is linked. A server
// is reached by its HTTP interface, and reads the publication itself: it must reach the bucket, or have the folder among its own files.
//
// # Invariants
//
// A statement is first read by the lake's own engine over empty views: it is admitted there or refused, and from there are the
// names and types of its answer. Only then is it put into the other engine's words (package dialect) and run, step by step, in a
// connection of its own that sees the views and nothing else of ours. It runs with readonly set: nothing but temporary tables is
// made, and they go with the connection. Files are those that the manifest names, never a pattern; a file that is gone is an error,
// not fewer rows. A column that an older file lacks is NULL. The time zone is UTC.
//
// Cancelling the context, or the session's time limit, stops a statement in the engine. Keys are given to the engine in its own
// statements and are in no error.
//
// # What a failure leaves behind
//
// Nothing in the publication. A killed process may leave a folder clickhouse-embedded-* among the system's temporary files; on a server a session with its temporary tables, which the server forgets after a minute.
//
//	s, err := fleet.Open(ctx, snapshot, fleet.Options{Engine: fleet.Embedded, Env: os.Getenv})
//	defer s.Close()
//	rows, err := s.Query(ctx, "SELECT platform, count(*) AS runs FROM runs GROUP BY 1 ORDER BY 1")
package fleet
