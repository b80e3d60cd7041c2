// Package health recognises channels that do not measure: stuck, saturated, clipped, spiking, dropping out or coarsely quantised.
//
// Terms. A channel is one logged signal on its own clock, in the unit it was logged in, with the column that it became and the conversion into
// that column's unit. A plateau is a stretch of exactly equal values. A mover is another channel that cannot change as much as it does
// without this one changing too: a manifold's pressure cannot stand still while the air flow triples.
//
// Invariants. Values are looked at and never altered. A channel without a column is not judged. A false alarm is worse than a miss: what
// is ordinary (a pedal at its stop, boost at zero, a gear, a settled coolant, a speed held in cruise) raises nothing, and whatever depends
// on a neighbour is left alone where no neighbour is logged. Every finding has its column, the time from its first to its last
// instance, a number and a code: channel_stuck, channel_saturated, channel_clipped, channel_spiking, channel_dropout, channel_coarse.
// The thresholds are common practice without a source, but for the Hampel rule of 40 CFR 1037.528(g)(1).
//
//	for _, f := range health.Check(channels, 98.7) {
//		fmt.Println(f.Code, f.Channel, f.T0S, f.T1S, f.Value, f.Unit) // channel_stuck map_kpa 12.4 19.1 6.7 s
//	}
package health
