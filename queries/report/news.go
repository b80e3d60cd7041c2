package report

import "time"

// News is what the last refresh found new against the one before. Numbers are in the stored units of their quantity's column.
type News struct {
	Since    time.Time // When the refresh before ended; zero for the first one.
	Runs     []Run
	Verdicts []Verdict // Those that changed.
	Passed   []Passed  // Limits that are passed now and were not before.
	SetAside []Aside
}

// Run is a run that came in.
type Run struct {
	ID, Vehicle, Platform, Calibration, Test string
	StartedAt                                time.Time // Zero where it is not known.
}

// Verdict is one comparison whose outcome changed.
type Verdict struct {
	Vehicle, Base, Candidate, Quantity string
	Was, Is                            string // gain, loss or no difference shown; Was is empty for a comparison that is new.
}

// Passed is a limit that a vehicle and calibration went beyond.
type Passed struct {
	Vehicle, Calibration, Quantity string  // Quantity is the column of the catalogue.
	Bound, Worst                   float64 // Worst is what was measured furthest beyond the bound.
	Upper                          bool
	PowerKW                        float64 // Where it was met; 0 where that is not known.
}

// Aside is an input that was set aside, and why.
type Aside struct{ Source, Reason string }

// none is whether nothing is new.
func (n News) none() bool { return len(n.Runs)+len(n.Verdicts)+len(n.Passed)+len(n.SetAside) == 0 }
