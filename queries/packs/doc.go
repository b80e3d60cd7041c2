// Package packs holds the questions that the lake answers: SQL files with a header that declares what they ask, take and give.
//
// Terms. A pack is one file PACK/QUERY.sql: ours lie in this folder and are part of the program, the user's lie in the lake's
// config/packs. Its header is the comment lines at its head, `-- key: value`:
//
//	-- title: Upshift speed by pedal                        all that a user's own pack needs
//	-- question: At what engine speed does each platform shift up?
//	-- param test: one of sweep|steps, null, -, only this test kind        NAME: type, default, unit, meaning
//	-- column n: 1, upshifts                                               NAME: unit, meaning
//	-- plot: line x=pedal_pct y=engine_speed_rpm by=platform,from_gear     how the answer is drawn
//	-- apart: platform, vehicle                            see below
//
// A plot is one picture or several with ";" between them: the kind (line or points), x and y, by (the columns that tell series
// apart, from coarse to fine), and where wanted band=LOW:HIGH, limit=COLUMN (a column of the answer that holds the bound, or one
// of the catalogue whose bounds in limits.yaml are drawn) and reference=1,1.5 (lines at these values of y) or reference=1:1.
//
// apart promises two things: a vehicle's rows follow from its own runs, its entry and the limits alone, and the answer is ordered by
// the columns named, the last of which is vehicle. Of such a query the night's work asks anew only for the vehicles that have
// other runs than before. Where the promise is not kept, packs test says so.
//
// A value goes on in a line that begins with two blanks after its dashes. Types are number, integer, text, boolean, time
// (a day or an instant), list of numbers, list of texts and one of A|B|C; a list's default stands in brackets; null asks for
// nothing; "-" is no unit. In the SQL $NAME stands for the parameter. The line `-- include: NAME` stands for a fragment of the
// folder include: alike (the pulls that may be compared, with the parameters that say how; pair: those of two calibrations),
// on_basis and on_exhaust (candidates), peak, welch (differences of two sides), limit_of (the closest limits), bound_points
// and meets (where a quantity meets its bound as power rises). every_column is made from the catalogue.
//
// Definitions that all of ours share. A pull is the statistical unit: n counts pulls, and medians are over pulls of the means
// that curves holds for a bin. Like with like: each vehicle and calibration is shown for its most frequent test kind, standard,
// drive basis, gear and lock-up, and for barometric pressure, charge and coolant temperature near the median; what was not
// logged counts as alike and is named. Flagged pulls stay in. Where two calibrations are compared both sides are narrowed together. What
// was left out is counted in left_out, and left_out_why says for which condition.
//
// Invariants. A value reaches the SQL as a literal of its declared type, so a query runs on any engine and no value is read as
// SQL. Answers are ordered and rounded, so they do not depend on threads. An empty lake answers no rows. What engines spell
// differently goes through the macros of package engine.
//
// Beside a query lies QUERY.test with a folder a case: rows given for the views as runs.csv, segments.csv and so on (an empty
// cell is NULL), case.yaml with params and a tolerance a column, and expect.csv; a case without expect.csv gives no rows.
//
// What a failure leaves behind: nothing. A user's pack that is broken is named in Set.Problems, the others go on.
//
//	set, err := packs.Load("lake/config/packs")
//	p, err := set.Pack("drive/onset")
//	sql, err := p.SQL(map[string]string{"thresholds": "1.0,1.3"})
//	rows, err := session.Query(ctx, sql)
package packs
