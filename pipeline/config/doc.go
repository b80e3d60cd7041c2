// Package config reads what a workshop writes about its vehicles, dynos and limits: lake.yaml, vehicles.yaml, dynos.yaml,
// limits.yaml and columns.yaml of a lake's config folder.
//
// Terms. An entry is one vehicle, dyno or limit. A Fingerprint stands for an entry's content: it is the same as long as
// nothing in the entry changes what it means, whatever becomes of its neighbours, its comments or its spelling, so that an edit touches only
// the runs which depend on the edited entry. A vehicle that is not listed has the empty fingerprint.
//
// Every quantity may carry its unit (2.2 L, 34 psi, 102 °F); a bare number is in the unit that the lake stores. A missing file, or a
// missing folder, counts as empty. A fault in any file fails Load as a whole, with all faults in one error, each beginning
// file:line:column; in columns.yaml it is one of Problems, and the other columns go on. Nothing is changed on disk. What can be used but looks wrong is a finding beside the result.
//
//	c, err := config.Load("lake/config")
//	v, ok := c.Vehicle("van-1")
package config
