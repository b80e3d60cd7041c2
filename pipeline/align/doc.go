// Package align brings the clocks of a run onto one time base.
//
// Terms. A series is the channels that share one clock. Each recorder counts its own seconds; a placement is what is added
// to a recorder's time to bring it onto the first recorder's. The base is the fastest mapped clock of the run.
//
// Rules. Repair makes each clock strictly increasing by stated rules, each with a finding. Place shifts recorders by
// cross-correlating a signal that both logged (engine speed, else road speed), else by their absolute times. Merge keeps
// exactly the logged rows where channels share a clock; other clocks are interpolated linearly (states held) onto the base,
// never across a gap longer than the larger of 0.5 s and three of the channel's own periods. Nothing here touches a file.
package align
