package derive

import "math"

// EngineRatio is how often the engine turns a turn of the wheel: n 2 pi r / (60 v), with n in 1/min, the rolling radius r in m
// and v in m/s (from kinematics). NaN at standstill.
func EngineRatio(rpm, radius float64, v MPerS) float64 {
	if !(v > 0) {
		return math.NaN()
	}
	return rpm * 2 * math.Pi * radius / (60 * float64(v))
}

// DrivelineSpeed is the road speed in km/h that an engine speed asks for through an overall ratio: the inverse of EngineRatio.
func DrivelineSpeed(rpm, radius, overall float64) float64 {
	return rpm * 2 * math.Pi * radius * 0.06 / overall
}

// TyreSlip is 1 - v_roller / v_driveline: 0 when the driven tyre rolls as its radius says, above 0 when it slips while
// driving (common practice, no source). What the tyre's true radius differs from the stated one is part of it.
func TyreSlip(rollerKMH, drivelineKMH float64) float64 {
	if !(drivelineKMH >= minSpeed) {
		return math.NaN()
	}
	return 1 - rollerKMH/drivelineKMH
}

// minSpeed is the road speed in km/h below which a speed ratio says nothing: the clutch slips or the sensor is blind.
const minSpeed = 5

// settle is how long, in s, a logged gear must have been engaged and stay so before the drive through it is taken as firm.
const settle = 0.3

// engaged is the gear by row: as logged, else as found, else as the run sheet states.
func (w *work) engaged() input {
	if in, name := w.of("gear", "gear_est"); name != "" {
		return in
	}
	if w.SheetGear >= 1 {
		return input{fixed: w.SheetGear}
	}
	return input{fixed: math.NaN()}
}

// ratioOf is the overall ratio of a gear; NaN for neutral, reverse and gears that the vehicle is not said to have.
func (w *work) ratioOf(gear float64) float64 {
	k := int(gear) - 1
	if math.IsNaN(gear) || gear != math.Trunc(gear) || k < 0 || k >= len(w.Vehicle.GearRatios) || !(w.Vehicle.FinalDrive > 0) {
		return math.NaN()
	}
	return w.Vehicle.GearRatios[k] * w.Vehicle.FinalDrive
}

// slip adds tyre_slip_frac where gear, radius and both speeds are known and nothing between engine and wheel slips: the
// converter is locked, or there is none on record.
func (w *work) slip() {
	roller, name := w.of("roller_speed_kmh")
	rpm, _ := w.of("engine_speed_rpm")
	gear, source := w.of("gear", "gear_est")
	locked, converter := w.of("converter_locked_frac")
	if name == "" || source == "" || !(w.Vehicle.RollingRadiusM > 0) {
		return
	}
	firm := w.firm(gear.column)
	w.fill("tyre_slip_frac", func(i int) float64 {
		if !firm[i] || converter != "" && !(locked.at(i) >= 0.5) {
			return math.NaN()
		}
		return TyreSlip(roller.at(i), DrivelineSpeed(rpm.at(i), w.Vehicle.RollingRadiusM, w.ratioOf(gear.at(i))))
	})
}

// firm marks the rows in which a gear has been engaged for a while and stays so.
func (w *work) firm(gear []float64) []bool {
	out := make([]bool, len(gear))
	for from := 0; from < len(gear); {
		to := from + 1
		for to < len(gear) && gear[to] == gear[from] {
			to++
		}
		for i := from; i < to; i++ {
			out[i] = (from == 0 || w.T[i]-w.T[from] >= settle) && (to == len(gear) || w.T[to-1]-w.T[i] >= settle)
		}
		from = to
	}
	return out
}
