// Package pipeline takes logs to the lake: it finds them with their run sheets, archives their bytes, reads, maps, aligns,
// derives, finds segments and commits.
//
// Terms. A job is the sources that form one recording and the sheet that applies. A recording in which a recorder restarts
// gives several runs, its parts. A run depends on the entries of the configuration that went into it: when one of them is
// edited the run is made again from its archived bytes.
//
// Invariants. A run's id comes from its source bytes alone: the same logs under other names, in another order or folder are
// the same run. A run is stored whole or not at all. One unreadable source does not stop its neighbours: it is set aside
// with a finding that says why. When ingesting fails the lake is as it was before, save bytes that reached the archive.
package pipeline
