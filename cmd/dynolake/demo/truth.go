package demo

import "time"

// Truth is what the model says without noise, sensor or recorder: what the lake's answers are held against.
type Truth struct {
	Seed     uint64
	Cases    []Case       // One a vehicle and calibration, in the fleet's order.
	Runs     []RunTruth   // In the order of their start.
	Upshifts []PedalPoint // One a platform, gear and pedal.
	Same     []Pair       // Calibrations between which nothing was changed.
}

// Pair names two calibrations of a vehicle.
type Pair struct{ Vehicle, Base, Candidate string }

// Case is one vehicle and calibration, from all its sweeps in the pull gear on its dyno. A value is the median over pulls
// of what the pull has; a bin's value in a pull is the mean over time spent in it, up to the pull's peak power on the axis of power.
type Case struct {
	Vehicle, Platform, Duty, Calibration string
	Test                                 string // sweep.
	Gear                                 int
	Basis                                string  // What the logs allow of the drive pressure: outlet, system or gross.
	TorqueFactor                         float64 // Of the calibration on the stock full-load curve, as asked for.
	Pulls                                int
	PeakPowerKW, PeakPowerRPM            float64
	PeakTorqueNM, PeakTorqueRPM          float64
	HighestPowerKW                       float64 // Of any pull.
	RatioMin                             float64 // Least net drive ratio after spool-up.
	BySpeed                              []SpeedPoint
	ByPower                              []PowerPoint
	Onsets                               []Onset
}

// SpeedPoint is a bin of 50 1/min that every pull crosses whole, with the boost at its target.
type SpeedPoint struct {
	RPM                       float64 // The bin's middle.
	TorqueNM, PowerKW         float64
	BoostKPa, ExhaustGaugeKPa float64
}

// PowerPoint is a bin of 5 kW of wheel power, up to 98 % of peak power, that every pull crosses whole with the boost at its target.
type PowerPoint struct {
	PowerKW                float64 // The bin's middle.
	BoostKPa, NetDriveKPa  float64
	DriveRatio, GrossRatio float64
	ExhaustGaugeKPa        float64
	DPFDeltaKPa            float64
	Lambda                 float64
}

// Onset is the wheel power from which the net drive ratio stays at or above the threshold. PowerKW is NaN where it never does.
type Onset struct{ Threshold, PowerKW float64 }

// PedalPoint is the median upshift speed over all road runs of a platform.
type PedalPoint struct {
	Platform       string
	FromGear       int
	PedalPct       float64
	EngineSpeedRPM float64
	N              int
}

// RunTruth is one run as it was driven. A file in which the recorder restarts holds two, told apart by Part.
type RunTruth struct {
	Vehicle, Calibration, Test string
	Folder                     string // Below the folder written, with slashes.
	Files                      []FileTruth
	Part                       int
	StartedAt                  time.Time
	DurationS                  float64
	Pulls                      []PullTruth
	Shifts                     []ShiftTruth // Upshifts alone; what happens while braking is left out.
	Dialects                   []string     // A word for every quirk of its files.
}

// FileTruth is a log of a run. Its own clock reads OffsetS at the run's beginning.
type FileTruth struct {
	Name    string
	OffsetS float64
}

// PullTruth is one pull. Times from the run's beginning.
type PullTruth struct {
	Gear                    int
	FromS, ToS              float64
	PeakPowerKW, AtRPM      float64
	PeakTorqueNM, TorqueRPM float64
}

// ShiftTruth is one upshift: the highest engine speed and when it was reached, from the run's beginning.
type ShiftTruth struct {
	FromGear, ToGear int
	EngineSpeedRPM   float64
	PedalPct         float64
	Locked           bool
	TimeS            float64
}
