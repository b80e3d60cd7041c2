// Package segment finds what happens in a run: full-load pulls, steady points, gear shifts, converter lock-ups, braking,
// regeneration, coasting and idling; and reduces each pull to a curve that comparisons stand on.
//
// Terms. A block is a stretch of rows without a gap in time. A track is one column of a block on an even grid, smoothed
// over a stated time: detection works on tracks, so that a log at 4 Hz and one at 100 Hz take the same way; what is
// reported (a shift's engine speed, a pull's rows) is read from the rows as logged. A step is a lasting change of the
// ratio of engine speed to road speed; a change is one of the logged gear. A pull is evidence of full load (pedal, else
// load, else a sustained acceleration, which is said in a finding) over a rise of engine speed within one gear.
//
// Invariants. Any column may be missing, in part or whole: the kinds that need it are then absent or rest on what is left.
// Segments are ordered by time, lie within the run, begin and end on logged rows and never reach across a gap. Pulls
// overlap neither shifts, idle, coast, brake nor steady segments. A spike (one value far off both its neighbours, or one
// that its column cannot hold) is part of no segment or curve, and is told. Adding a constant to the clock changes nothing. The
// frame is never changed. Every threshold is a named constant with its reason.
//
//	segments, findings := segment.Find(frame, segment.Context{Vehicle: vehicle, Test: "sweep", Gear: math.NaN()})
//	curves := segment.Curves(frame, segments)
package segment
