// Package derive computes the engineered columns of a run from those that were logged: boost, drive pressure and its
// ratios, exhaust back pressure, wheel power and torque, the gear, tyre slip, control errors, power referred to a
// reference atmosphere, air and what follows of it: lambda, volumetric efficiency, the compressor, the charge cooler, the
// turbine's flow, efficiency and balance with the compressor, a surge indicator, specific consumption, mean pressure, the
// particulate filter's resistance and regeneration. Coastdown fits the road load of a coast run. Humidity is reckoned in one place,
// humidity.go: IAPWS-IF97 above freezing, Goff and Gratch below.
//
// Terms. Absolute and differential pressures are types of their own (AbsKPa, DiffKPa), so that one cannot be given for the other. Boost is
// intake manifold less barometric pressure. Net drive is what the turbine is driven by: the pressure across it; gross drive counts
// everything behind it in. A basis says which definition net drive stands on. Torque at engine speed is wheel power over engine speed.
//
// Invariants. A missing input gives a missing result, row by row; nothing is interpolated over rows here, and nothing is clamped. A
// result that cannot be, outside the range that the catalogue states of its column, is left out and counted in a finding. A
// column that was logged is never overwritten. Which of two inputs a column stands on is decided once for a run, so that a
// sensor's gap does not mix two definitions. Whatever was chosen or assumed is a finding. No file, clock or database is touched.
//
//	findings := derive.Columns(frame, derive.Context{Run: run, Vehicle: vehicle, Dyno: dyno, SheetGear: math.NaN()})
//	boost := frame.Column("boost_kpa")
package derive
