// Package mapping says which column each logged channel is to become, and why.
//
// Terms. A claim is a channel's proposed column with the conversion into the stored unit. A rule is an entry of the user's own
// config/mappings. A name is folded (lower case, abbreviations and German written out, brackets and fillers dropped) before it
// is compared with the catalogue's aliases, which are folded the same way. Rest is engine stopped, or idling with the pedal up
// and the wheels still.
//
// It works in two steps, because recorders have to be brought onto one clock in between. ByName reads names, units and rules.
// ByEvidence then looks at the values: absolute or gauge, torque at the engine or at the hubs, an exhaust pressure before or
// after the turbine, implausible values, and which of several channels keeps a column.
//
// Zeros comes last: it tells what each pressure reads at rest less what it should, and moves the claims of those whose zero a mapping or the run
// sheet asks to be taken off.
//
// Invariants. There is a claim for every channel, in the order of the logs. A column is claimed only where the unit's quantity is
// the column's. The order of channels changes no claim. Every guess is a finding; a channel that is not understood has no
// column and a Why that says what would help. Nothing is kept between calls, and after an error from LoadRules no rule is used.
//
//	rules, err := mapping.LoadRules("lake/config/mappings")
//	claims := mapping.ByName(logs, rules, ctx)
//	claims, findings := mapping.ByEvidence(logs, claims, shifts, ctx)
//	for _, line := range mapping.Explain(logs, claims) {
//		fmt.Println(line.Name, line.Column, line.Formula, line.Reason) // Boost, map_kpa, ×6.894757 + baro, …
//	}
package mapping
