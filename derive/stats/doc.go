// Package stats has the statistics that derived figures and verdicts stand on: order statistics that skip missing values, a spread that
// outliers do not move, local least squares on uneven clocks, filters, fits with their errors, and intervals and verdicts over pulls.
//
// Missing values are NaN. Every function skips them, and answers NaN where too few values are left: it never returns an
// error and never changes its arguments.
//
//	level := stats.Median(rpm)
//	noisy := stats.Spread(rpm) > 0.02*level
//
// # What a verdict stands on
//
// The pull is what is counted. A pull's samples follow one another and its bins err together, so they are drawn together into one mean a
// bin before anything is compared; intervals are over pulls.
//
//	c := stats.Compare(base, candidate, 0.95) // A slice a pull, a value a bin.
//	c.Pointwise[i].Verdict()                  // Of bin i alone.
//	c.Verdict()                               // Of the whole curve.
//	c.Where()                                 // In which bins the curves part, by the simultaneous band.
//
// Of two equal calibrations, by simulation of 40 bins and 2 to 8 pulls each (TestCoverageBand):
//
//   - each bin alone (Welch) says "no difference shown" in 95 to 98 of 100 comparisons. That holds of a bin that was chosen beforehand.
//     Along a curve some bin or other shows a difference in 30 to 50 of 100, in 86 where the bins err independently: so bins are not counted,
//     and none is picked afterwards, to judge the change;
//   - the mean of each pull over the bins that all pulls have gives one difference, by Welch: 95 of 100. It finds an even change
//     best and is blind to one that gains here and loses there;
//   - the simultaneous band, greatest |t| along the curve, leaves 0 nowhere in 95 of 100. It finds a change of a part of the curve, and
//     one that changes sign;
//   - the verdict of the whole curve takes the mean and the band together, each with half of the 5 %: at least 95 of 100.
//
// So a shop is told the verdict of the whole curve, with the mean difference and its interval, and where the band shows it. SQL, which has
// no draws, gives the bins' verdicts and that of the mean. Two pulls of each say little: their t is 4.3 to 12.7
// where that of many is 2. The candidate needs about as many pulls as the base (see Welch).
//
// Several comparisons made at once, of vehicles or quantities, are judged together by Holm.
package stats
