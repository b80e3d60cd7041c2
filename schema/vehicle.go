package schema

// Vehicle is an entry of vehicles.yaml in stored units. Numbers are 0 where not stated.
type Vehicle struct {
	ID                   string
	Platform             string
	Duty                 string // light or heavy.
	DisplacementL        float64
	Cylinders            int
	Strokes              int // 4 when not stated.
	RatedPowerKW         float64
	RatedSpeedRPM        float64
	FuelDensityKgL       float64 // 0.835 when not stated.
	FuelStoichRatio      float64 // 14.5 when not stated.
	FuelHeatingMJKg      float64
	GearRatios           []float64
	FinalDrive           float64
	RollingRadiusM       float64
	DrivelineEfficiency  float64
	VolumetricEfficiency float64
	MassKg               float64
	RoadLoad             []float64 // N, N/(km/h), N/(km/h)^2.
	CompressorWheelMM    float64
	TurbineWheelMM       float64
	MapFile              string
	ChargeCooling        string // air, liquid or none.
	Ignition             string // compression or spark; compression when not stated.
	Aspiration           string // turbo, mechanical or natural; turbo when not stated.
	StrokeMM             float64
	Tyres                int                 // On the road, where the mass of the turning parts is counted by them.
	Lag                  map[string]Lag      `json:",omitempty"` // By temperature column.
	Accuracy             map[string]Accuracy `json:",omitempty"` // By measured column.
}

// Dyno is an entry of dynos.yaml in stored units.
type Dyno struct {
	ID               string
	Kind             string    // inertia, brake or none.
	EquivalentMassKg float64   // 0 when not stated; inertia / radius^2 where those are given.
	Friction         []float64 // N, N/(km/h), N/(km/h)^2.
}

// Limit is an entry of limits.yaml. Max and Min are NaN where not stated.
type Limit struct {
	Column   string
	Max, Min float64 // Stored unit of the column.
	Vehicle  string
	Platform string
	Duty     string
	Test     string
	Note     string
}

// Sheet is what a run sheet says of one run. Empty and NaN fields are not stated.
type Sheet struct {
	Files       []string
	Vehicle     string
	Calibration string
	Hardware    string
	Test        string
	StartedAt   string // As written; read with the lake's zone.
	Dyno        string
	Gear        float64
	BaroKPa     float64
	AmbientC    float64
	HumidityPct float64
	DewPointC   float64 // Stands in for HumidityPct; one of the three is stated at the most.
	WetBulbC    float64
	Zero        string // Which pressures' zeros are to be taken off, as mapping.ParseZeros reads it.
	Standard    string
	Note        string
	Origin      string // file:line of the sheet's entry.
}

// Lag is what is asked of a slow probe's column.
type Lag struct {
	TimeS   float64 // The time constant as stated; 0: to be estimated.
	Correct bool    // A corrected column is wanted.
}
