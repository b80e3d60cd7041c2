// Package plot draws the pictures that a query's header declares, as SVG or PNG.
//
// Terms. A chart is one picture of one answer. It has panels, small multiples of one size; a panel has at most six series. The
// columns named by `by` tell series apart, from coarse to fine: the last one names the series, the ones before make the panels;
// where every panel would hold one series alone, the coarser column makes them. Where a panel would hold more than six, numbered
// series (gears) and vehicles go on in a further panel, and of a vehicle's calibrations the first and the latest are drawn; what
// is left out is said in Chart.LeftOut.
//
// The look. Series differ by line pattern and by marker as well as by colour, and each is named at its end, so that no picture
// needs colour to be read; colours differ in lightness and for the common colour deficiencies. The latest series is the solid,
// heavy line. Limits are a line with teeth on the side that must not be entered; lines of reference are thin and named. Axes
// say quantity and unit, in the units asked for. A curve is not drawn across a gap of more than four bins, and one that leaves
// the panel is said to do so. Every panel tells its key numbers in words.
//
// Invariants. The same rows give the same bytes. Names are escaped, control characters are made visible.
//
// What a failure leaves behind: nothing of its own; how a file is put in place is up to the caller.
//
//	charts, err := plot.Charts(pack, columns, rows, plot.Options{Units: result.US, Limits: limits})
//	err = plot.Save("onset.svg", charts, put)
package plot
