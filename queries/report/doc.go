// Package report writes one page of HTML from which a team sees in the morning what changed, where each platform stands and on
// what that rests.
//
// Terms. The page stands on one snapshot. Its news are what the last refresh found new. A card answers for one platform in
// sentences; a figure is the panels of one query for one platform; beside each stands the command line that gives its numbers.
// Where a vehicle has several calibrations, sentences speak of the one that was first run last, and compare it with the one
// before.
//
// Invariants. The file is whole in itself: no script, no font, no picture and no style comes from elsewhere. The same lake gives
// the same bytes: no clock is read. Names from logs and sheets are escaped. Every picture has a text alternative with its key
// numbers, colours are readable on light and dark, and in grey. A query that is missing, fails or answers no rows costs its
// own section, which says so.
//
//	err := report.Write(ctx, w, report.Input{Session: session, Packs: set, Limits: limits, Units: result.US, News: news})
package report
