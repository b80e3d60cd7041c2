// Package align brings the clocks of a run onto one time base.
//
// Terms. A series is the channels that share one clock. Each recorder counts its own seconds; a placement is what is added
// to a recorder's time to bring it onto the reference's, which is the recorder with most rows of a shared signal. The base is
// the fastest mapped clock of the run.
//
// Rules. Repair makes each clock strictly increasing by stated rules, each with a finding. Place shifts recorders by
// cross-correlating a signal that both logged (engine speed, else road speed), else by their absolute times. The overlap is cut
// into parts in which the signal moves equally much, and each is placed on its own: a straight line through their lags gives
// the shift and the drift of one clock against the other, both with a 95 % interval; a drift no larger than its interval is
// none. A lag is refused where the correlation is low, another lag does nearly as well, or the parts want different ones, as
// those of another pull or of a clock that jumped do. Recorders' dates and times decide only between lags that the signal
// leaves open. Merge keeps exactly the logged rows where channels share a clock; other clocks are interpolated linearly
// (states held) onto the base, never across a gap longer than the larger of 0.5 s and three of the channel's own periods.
// Nothing here touches a file.
//
// Accuracy, by simulation (the tests state it): 3 to 5 ms at 10 Hz beside 20 Hz, 50 ms with 1 Hz on both sides or stamps that
// are late by up to 80 ms; drift within 1 ppm over an hour and 16 ppm over ten minutes, and below 50 ppm not told in those.
package align
