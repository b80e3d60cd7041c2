// Package night is the order of the night's work on a lake: inbox, tables, report, and what is new since the last time.
//
// Terms. The state (reports/refresh.json) is what a refresh leaves for the next one: the snapshot and data that tables and report stand on, the runs
// that were there, each comparison's verdict and each limit that was passed. News are the differences. A comparison is of a vehicle's
// calibration with the one that was first run before it.
//
// Invariants. The state is written last and in one step: a refresh that is killed tells its news the next time. News follow from
// what is in the lake, never from a clock, so that one which goes backwards changes nothing. The caller holds the lake's lock throughout.
//
// What a failure leaves behind: runs that were committed, yesterday's tables or today's, yesterday's report or today's.
package night
