package derive

import (
	"fmt"
	"math"

	"dynolake/schema"
)

// RotatingShare is the part of a vehicle's mass that its turning wheels count as in addition when it accelerates: 3 %
// (UN GTR 15, from memory; 40 CFR 1037.528 has 56.7 kg a tyre for trucks).
const RotatingShare = 0.03

// power fills in wheel_power_kw where it was not logged, from the best evidence there is.
func (w *work) power() {
	if w.Has("wheel_power_kw") {
		return
	}
	for _, try := range []func() bool{w.powerOfForce, w.powerOfTorque, w.powerOfWheelTorque, w.powerOfInertia, w.powerOfRoadLoad} {
		if try() && w.Has("wheel_power_kw") {
			return
		}
	}
}

// made tells how the power was found.
func (w *work) made(severity schema.Severity, code, text string, value float64, unit string) bool {
	if w.Has("wheel_power_kw") {
		w.find(severity, code, "wheel_power_kw", "wheel power was not logged: "+text, value, unit)
	}
	return true
}

// powerOfForce is force times speed at the roller. In a sweep on a brake dyno the roller takes power too while it gains
// speed, which the brake does not see: its equivalent mass times acceleration is added to the force.
func (w *work) powerOfForce() bool {
	force, _ := w.of("roller_force_n")
	speed, name := w.of("roller_speed_kmh", "vehicle_speed_kmh")
	if !force.known() || name == "" {
		return false
	}
	text := "it is roller_force_n times " + name
	mass := w.Dyno.EquivalentMassKg
	if w.Dyno.Kind == "brake" && mass > 0 && (w.Run.Test == "sweep" || w.Run.Test == "") {
		a := w.acceleration(name, speed)
		w.fill("wheel_power_kw", func(i int) float64 {
			return PowerOfForce(force.at(i)+InertiaForce(mass, a[i]), KMH(speed.at(i)))
		})
		return w.made(schema.Note, "power_from_force", text+fmt.Sprintf(", and the roller's %.4g kg times its acceleration", mass), mass, "kg")
	}
	w.fill("wheel_power_kw", func(i int) float64 { return PowerOfForce(force.at(i), KMH(speed.at(i))) })
	if w.Dyno.Kind == "brake" && w.Run.Test == "sweep" {
		text += "; the brake dyno's equivalent mass is not known, so what its roller takes while it gains speed is left out: add it to dynos.yaml"
		return w.made(schema.Doubt, "power_from_force", text, math.NaN(), "kg")
	}
	return w.made(schema.Note, "power_from_force", text, math.NaN(), "")
}

// powerOfTorque is a logged torque at engine speed times engine speed.
func (w *work) powerOfTorque() bool {
	torque, _ := w.of("torque_nm")
	rpm, _ := w.of("engine_speed_rpm")
	if !torque.known() || !rpm.known() {
		return false
	}
	w.fill("wheel_power_kw", func(i int) float64 { return PowerOfTorque(torque.at(i), rpm.at(i)) })
	return w.made(schema.Note, "power_from_torque", "it is torque_nm times engine speed", math.NaN(), "")
}

// powerOfWheelTorque is torque at the hubs times wheel speed: the output shaft's over the final drive, else the engine's over
// the overall ratio of a known gear, else road speed over the rolling radius.
func (w *work) powerOfWheelTorque() bool {
	torque, _ := w.of("wheel_torque_nm")
	if !torque.known() {
		return false
	}
	shaft, _ := w.of("output_shaft_rpm")
	rpm, _ := w.of("engine_speed_rpm")
	speed, name := w.of("vehicle_speed_kmh", "roller_speed_kmh")
	v := w.Vehicle
	rolling := func(int) float64 { return math.NaN() }
	if name != "" && v.RollingRadiusM > 0 {
		rolling = func(i int) float64 { return float64(KMH(speed.at(i))) / v.RollingRadiusM * 30 / math.Pi }
	}
	locked, converter := w.of("converter_locked_frac")
	gear := w.engaged()
	wheel, text := rolling, name+" over the rolling radius"
	switch {
	case shaft.known() && v.FinalDrive > 0:
		wheel, text = func(i int) float64 { return shaft.at(i) / v.FinalDrive }, "output shaft speed over the final drive"
	case rpm.known() && gear.known() && len(v.GearRatios) > 0 && v.FinalDrive > 0:
		text = "engine speed over the gear's overall ratio"
		wheel = func(i int) float64 {
			overall := w.ratioOf(gear.at(i))
			if math.IsNaN(overall) || converter != "" && !(locked.at(i) >= 0.5) {
				return rolling(i)
			}
			return rpm.at(i) / overall
		}
	}
	w.fill("wheel_power_kw", func(i int) float64 { return PowerOfTorque(torque.at(i), wheel(i)) })
	return w.made(schema.Note, "power_from_wheel_torque", "it is wheel_torque_nm times wheel speed: "+text, math.NaN(), "")
}

// powerOfInertia is (equivalent mass times acceleration + friction) times speed on an inertia dyno.
func (w *work) powerOfInertia() bool {
	speed, name := w.of("roller_speed_kmh", "vehicle_speed_kmh")
	if w.Dyno.Kind != "inertia" || name == "" {
		return false
	}
	mass := w.Dyno.EquivalentMassKg
	if !(mass > 0) {
		w.find(schema.Doubt, "equivalent_mass_missing", "wheel_power_kw", "wheel power was not logged and cannot be reckoned: add the inertia dyno's equivalent_mass to dynos.yaml", math.NaN(), "kg")
		return false
	}
	a := w.acceleration(name, speed)
	w.fill("wheel_power_kw", func(i int) float64 {
		return PowerOfForce(InertiaForce(mass, a[i])+SpeedForce(w.Dyno.Friction, speed.at(i)), KMH(speed.at(i)))
	})
	return w.made(schema.Note, "power_from_inertia", fmt.Sprintf("it is %.4g kg times the acceleration of %s, with the roller's friction, times speed", mass, name), mass, "kg")
}

// powerOfRoadLoad is (mass with its rotating share times acceleration + road load) times speed, on a road taken as level.
func (w *work) powerOfRoadLoad() bool {
	speed, name := w.of("vehicle_speed_kmh")
	road := w.Run.Test == "road" && w.Dyno.Kind == "" || w.Dyno.Kind == "none"
	if !road || name == "" || w.Run.Test == "coast" {
		return false
	}
	mass, load := w.Vehicle.MassKg, w.Vehicle.RoadLoad
	if !(mass > 0) || len(load) == 0 {
		return false
	}
	a := w.acceleration(name, speed)
	effective := mass * (1 + RotatingShare)
	w.fill("wheel_power_kw", func(i int) float64 {
		return PowerOfForce(InertiaForce(effective, a[i])+SpeedForce(load, speed.at(i)), KMH(speed.at(i)))
	})
	return w.made(schema.Doubt, "power_from_road_load",
		fmt.Sprintf("it is reckoned from %.5g kg (mass and %.0f %% for turning parts), acceleration and road load on a road taken as level and calm", effective, 100*RotatingShare), effective, "kg")
}

// torque fills in torque_nm where it was not logged.
func (w *work) torque() {
	if w.Has("torque_nm") {
		return
	}
	power, _ := w.of("wheel_power_kw")
	rpm, _ := w.of("engine_speed_rpm")
	w.fill("torque_nm", func(i int) float64 { return TorqueOfPower(power.at(i), rpm.at(i)) })
}
