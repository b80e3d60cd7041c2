// Package lake stores runs: source bytes in an archive, rows in Parquet files, and in a catalogue which files are live.
//
// # Terms
//
// A blob is source bytes, named by their SHA-256 and kept compressed. A table's files hold its rows; samples has one file a
// run and month folder, the small tables (runs, segments, curves, sources, unmapped, findings) one file a commit. A
// snapshot is the list of files that are live after a commit. An owner is what rows belong to: a run by its id, or a
// refused source by its SHA-256.
//
// # Invariants
//
// A published file never changes. Readers take their list of files from a snapshot, never from a folder, and hold no lock.
// A run is in a snapshot whole, once, or not at all: a commit that replaces or retires it supersedes the files that hold its
// rows and writes those files' other rows anew. Superseded files stay for a grace period, so that running readers lose nothing. A
// missing value is NULL, never NaN; infinite values are refused. Every column carries its field id, and every file carries
// what the catalogue knows of it. Paths are relative: a lake can be moved or copied.
//
// One writer at a time holds a lock that the kernel frees when the process ends, however it ends; the lock file's text says who it is:
// host, process and when that began. A text of this host counts as dead when the kernel's lock is free and no such process runs; one of another host, on a
// network folder that may not pass locks on, when it is not written anew for some seconds. A writer whose lock was taken over
// while its host slept, or whose lock file was removed, commits nothing more.
//
// Snapshots follow each other by number, never by the clock. Grace periods are held to the system's own count since its start:
// a clock that is set between two commits shifts the times of superseded files with it.
//
// # What a failure leaves behind
//
// Every file is saved by pipeline/disk: temporary name, content, fsync, rename, fsync of the folder. Then one transaction of
// the catalogue makes the commit visible. A failure or a kill before it leaves the lake as it was, and at most temporary
// files and files that no snapshot names; the next writer sweeps them (the latter after the grace period, and only files
// with names that commits give). Archived bytes are never removed. Verify finds damage and says what it costs; Rebuild
// makes a lost or damaged catalogue anew from what the Parquet files say of themselves.
package lake
