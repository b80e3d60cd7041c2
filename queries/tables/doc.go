// Package tables keeps the comparison tables of a lake: the answer of every query that needs no parameter, as Parquet and as CSV.
//
// Terms. A table is one query's answer by its defaults, in tables/NAME.parquet and tables/NAME.csv, NAME being PACK_QUERY. Its basis is a
// fingerprint of all that the answer follows from: the statement with its macros, the live files of the views it reads, the vehicles
// and limits where it reads those, the user's columns, and the version of this package. The manifest (tables/manifest.json) names every table with its rows
// and checksums, and the data that they stand on by a fingerprint of the runs, which is the same in whatever order they were ingested.
// The books keep, outside the folder, each table's basis and what the statement reads. A share stands for one vehicle's runs and entry.
//
// Invariants. The folder tables/ is whole: it is made anew beside the old one and takes its place in one step, so that a reader or a
// kill finds yesterday's tables or today's and never some of each. The same runs give the same bytes, whatever the order of ingest: answers are ordered and
// rounded, computed on one thread, and hold no time of their making. A table whose basis stays is copied over, not computed; when no
// table changed, the folder stays as it is. A query that is told of each vehicle apart is asked for the vehicles whose shares are others
// than before, where those are fewer than half; their rows take the place of the old ones, and the table is what it would be if it were
// asked for whole.
//
// What a failure leaves behind: yesterday's tables, and a folder tables.new-* beside them that the next Write removes. A user's query
// that fails is named in Result.Problems and has no table; the others go on.
//
//	res, err := tables.Write(ctx, tables.Lake{Root: "lake", Snapshot: snap, Set: set, Open: open}, books)
package tables
