// Package store keeps a publication's files: in a folder, or in a bucket that speaks the S3 protocol.
//
// # Terms
//
// A name is relative to the destination, with slashes. A URI is where readers find it.
//
// # Invariants
//
// A file is under its name whole or not at all. Create gives a name once: of several who try, one succeeds. In a folder that
// rests on the file system's hard links, in a bucket on conditional writes (If-None-Match), which a store that does not know
// them may ignore: there two publishers at the same time are told apart only by the look before the write.
//
// Keys come from the environment or from a file that it names, and are in no message: a store's refusal is told by its code
// and in our own words, never by what the store wrote.
//
// # What a failure leaves behind
//
// In a folder at most files whose names begin with .tmp-, which nobody reads and Sweep removes; in a bucket nothing.
package store
