package schema

import "time"

// Run is one recording of one vehicle. Numbers are NaN and times nil where not known.
type Run struct {
	ID            string // 16 hex digits, from the source bytes.
	Vehicle       string
	Platform      string
	Duty          string // light or heavy.
	Calibration   string
	Hardware      string
	Test          string // sweep, steps, road, coast or other.
	StartedAt     *time.Time
	DurationS     float64
	Rows          int64
	Dyno          string
	DynoKind      string // inertia, brake or none.
	Standard      string
	BaroKPa       float64
	AmbientC      float64
	HumidityPct   float64
	OperatorNote  string
	IngestedAt    time.Time
	EngineVersion string
}

// SourceFile is one log of a run: a row of the sources view.
type SourceFile struct {
	RunID     string
	Source    string
	Form      string
	SHA256    string
	Bytes     int64
	Rows      int64
	Channels  int
	FirstTime float64 // Seconds on the recorder's own clock.
	LastTime  float64
	ShiftS    float64 // What was added to bring it onto the run's clock.
}

// Severity of a finding.
type Severity string

// A note tells what was done, a doubt what may be wrong, a rejection what was refused.
const (
	Note     Severity = "note"
	Doubt    Severity = "doubt"
	Rejected Severity = "rejected"
)

// Finding is a guess, repair, conflict or refusal with its number. Value and the times are NaN where there is none.
type Finding struct {
	RunID    string // Empty for a file that became no run.
	Source   string
	Severity Severity
	Code     string // snake_case, stable: scripts filter by it.
	Channel  string
	Text     string // One sentence for a person: what was found, what was done, what to do.
	Value    float64
	Unit     string
	T0S, T1S float64
	At       time.Time // When it was found; the lake fills it in.
}

// Segment is a stretch of a run. Fields that its kind does not have are NaN, -1 or empty.
type Segment struct {
	RunID   string
	ID      int // Counts from 0 in a run.
	Kind    string
	T0S     float64
	T1S     float64
	Row0    int // First and last row of the frame; not stored.
	Row1    int
	Pull    *Pull
	Shift   *Shift
	MeanRPM float64 // Of steady and idle segments and coasts.
}

// Pull is what a full-load run through the speed range has. Numbers are NaN where not logged.
type Pull struct {
	Gear         float64
	Locked       float64 // 1, 0 or NaN.
	RPMFrom      float64
	RPMTo        float64
	PeakPowerKW  float64
	PeakTorqueNM float64
	ChargeStartC float64
	CoolantC     float64
	TransC       float64
	SinceLastS   float64
	Flagged      string // Why a stated rule doubts it; empty when none does.
}

// Shift is a change of gear.
type Shift struct {
	FromGear       float64
	ToGear         float64
	EngineSpeedRPM float64
	PedalPct       float64
	Locked         float64
}

// Curve is one pull's row in one bin of one axis.
type Curve struct {
	RunID     string
	SegmentID int
	Axis      string // engine_speed_rpm or wheel_power_kw.
	Bin       float64
	N         int
	Mean      map[string]float64
	P05, P95  map[string]float64
}

// Unmapped is one logged channel that no column claims: a row of values on its own clock.
type Unmapped struct {
	RunID        string
	Source       string
	ChannelGroup string
	Name         string
	Unit         string
	T            []float64 // On the run's clock where the run has one, as t_s.
	Values       []float64
	Texts        map[int]string // By index into T.
}

// RunData is a run with everything that the lake stores of it. It is committed whole or not at all.
type RunData struct {
	Run      Run
	Frame    *Frame
	Segments []Segment
	Curves   []Curve
	Sources  []SourceFile
	Unmapped []Unmapped
	Findings []Finding
}
