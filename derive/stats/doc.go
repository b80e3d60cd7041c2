// Package stats has the robust statistics that derived figures stand on: order statistics that skip missing values, a
// spread that outliers do not move, local least squares on uneven clocks, switching with hysteresis, and Student's t.
//
// Missing values are NaN. Every function skips them, and answers NaN where too few values are left: it never returns an
// error and never changes its arguments.
//
//	level := stats.Median(rpm)
//	noisy := stats.Spread(rpm) > 0.02*level
package stats
