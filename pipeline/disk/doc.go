// Package disk is the one way by which the program changes a file that is a lake's or its user's.
//
// Terms. Ops are the operations of a file system that change something, each of which can fail by itself. A Disk adds to them what is made
// of several: Save publishes a file, Fill writes one under a temporary name, MkdirAll and RemoveAll work on whole folders.
//
// Invariants. A published file is there whole or not at all: temporary name beside its own, content, permissions, fsync, rename, fsync of the
// folder. A folder that had to be made has its name synced in the folder above it before the file's own name is. Errors are those of the file
// system, with the operation and the path in them.
//
// What a failure leaves behind: the file that was there before, and where removing it failed too, a temporary file that no reader looks at
// (its name begins with TempPrefix). After an error of the last step, the fsync of the folder, the new file is there and may be lost
// with the power; the same Save again puts that right.
//
// Not by this package go: a lake's lock, the pages of its catalogue (SQLite writes them; Ops.Commit ends its transactions) and temporary
// files in the system's own folder for them.
//
//	err := disk.OS().Save("lake/reports/report.html", 0o666, func(w io.Writer) error { … })
package disk
