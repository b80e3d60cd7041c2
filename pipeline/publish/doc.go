// Package publish copies the lake's tables to where other engines read them: as Apache Iceberg tables or as Parquet files in
// month folders, in a folder or in a bucket.
//
// # Terms
//
// A publication is a destination with publication.json, which says what form it has. Its pointer, written last, says which
// snapshot of the lake it holds: current.json of Iceberg tables, manifest.json of plain Parquet. A file of the lake whose rows
// are of one month is copied byte for byte; one that mixes months is split by the month of its runs.
//
// # Invariants
//
// Only what the destination does not hold is moved; nothing new moves nothing and makes no snapshot. A copy is held to the
// checksum in the catalogue before anything names it. A destination that holds something else, another lake's tables or a
// newer snapshot than the lake's is refused. The lake is only read.
//
// Iceberg tables: each table's commit is atomic (package iceberg); the metadata files that current.json names are of one
// snapshot of the lake across all tables. Files of superseded snapshots stay for a time, so that running readers lose nothing.
//
// Plain Parquet: manifest.json is replaced at once and names every live file of one snapshot. Who reads by pattern sees each
// file whole; while files are being replaced (a run made anew, a compaction) it may see rows twice for a moment, for new files
// come before the old ones go. The tables of new runs arrive before runs itself.
//
// # What a failure leaves behind
//
// The publication as it was, or as it was to become, and files that nothing names, which the next publish takes over or removes.
// Between two Iceberg tables' commits some are new and others old; current.json still names the old ones together.
package publish
