package demo

import (
	"bytes"
	"fmt"
	"strings"
)

const notice = "# " + label + ".\n# No vehicle, dyno or part named here exists; limits shown are examples, and the makers' figures come first.\n"

// vehiclesYAML describes vehicles as a shop would.
func vehiclesYAML(list []*vehicle) string {
	var b strings.Builder
	b.WriteString(notice + "vehicles:\n")
	for _, v := range list {
		e, d := &v.engine, &v.drive
		fmt.Fprintf(&b, "  - id: %s\n    platform: %s\n    duty: %s\n", v.id, v.platform, v.duty)
		fmt.Fprintf(&b, "    displacement: %g L\n    cylinders: %g\n    strokes: 4\n    rated_power: %g kW\n    rated_speed: %g rpm\n", e.litres, e.cylinders, e.ratedKW, e.ratedRPM)
		fmt.Fprintf(&b, "    fuel: {density: %g kg/L, stoichiometric_ratio: %g, heating_value: %g MJ/kg}\n", densityKgL, stoich, heatingMJ)
		fmt.Fprintf(&b, "    gear_ratios: [%s]\n    final_drive: %g\n    rolling_radius: %g m\n", commas(d.ratios), d.final, d.radius)
		fmt.Fprintf(&b, "    driveline_efficiency: %g\n    volumetric_efficiency: %g\n    mass: %g kg\n    road_load: %s\n", d.efficiency, e.breathing, d.mass, polynomial(d.road))
		fmt.Fprintf(&b, "    turbo: {compressor_wheel: %g mm, turbine_wheel: %g mm}\n    charge_cooling: air\n", v.turbo.compressor*1000, v.turbo.turbine*1000)
	}
	return b.String()
}

// OwnVehicles reports whether a vehicles.yaml is the demo's own, for whatever number of repeats it was made.
func OwnVehicles(text []byte) bool {
	n, six := bytes.Count(text, []byte("\n  - id: ")), len(fleet())
	if n%six != 0 || !bytes.HasPrefix(text, []byte(notice)) {
		return false
	}
	m := Default()
	m.Scale = n / six * stay
	return string(text) == vehiclesYAML(m.vehicles())
}

func dynosYAML() string {
	var b strings.Builder
	b.WriteString(notice + "dynos:\n")
	seen := map[string]bool{}
	for _, v := range fleet() {
		d := v.bench
		if seen[d.id] {
			continue
		}
		seen[d.id] = true
		fmt.Fprintf(&b, "  - id: %s\n    kind: %s\n    equivalent_mass: %g kg\n", d.id, d.kind, d.mass)
		if d.friction != [3]float64{} {
			fmt.Fprintf(&b, "    friction: %s\n", polynomial(d.friction))
		}
	}
	return b.String()
}

func limitsYAML() string {
	return notice + `limits:
  - column: exhaust_gauge_kpa
    max: 20 kPa
    note: an example; what is sound depends on engine and aftertreatment
  - column: turbine_in_c
    duty: light
    max: 780 °C
  - column: turbine_in_c
    duty: heavy
    max: 720 °C
  - column: compressor_out_c
    max: 190 °C
  - column: turbo_speed_rpm
    duty: heavy
    max: 125000 rpm
  - column: lambda_ratio
    duty: light
    min: 1.15
  - column: lambda_ratio
    duty: heavy
    min: 1.25
  - column: drive_ratio
    max: 2
`
}

func commas(x []float64) string {
	var out []string
	for _, v := range x {
		out = append(out, fmt.Sprintf("%g", v))
	}
	return strings.Join(out, ", ")
}

func polynomial(c [3]float64) string {
	return fmt.Sprintf("[%g N, %g N/(km/h), %g N/(km/h)^2]", c[0], c[1], c[2])
}

// readme is what the folder says of itself.
func (m Model) readme() string {
	count := "six"
	if n := len(m.vehicles()); n > len(fleet()) {
		count = fmt.Sprint(n)
	}
	return fmt.Sprintf(readme, count)
}

const readme = label + `

Everything in this folder is invented: %s vehicles on three platforms that do not exist, driven by a small model of engine,
turbo, exhaust and rollers. Nothing here was measured, and nothing here is a target for a real vehicle.

  config/   what a shop states about its vehicles, dynos and limits
  logs/     a folder a vehicle: logs as different recorders write them (delimited text, workbooks, MDF 4, CAN bus logs with a database,
            Parquet, Arrow, packed or not), with the run sheets

Before anybody does this for real
  A vehicle at full power on rollers can kill. Tie it down with restraints rated for the load and check them before every pull;
  check tyre ratings, keep people clear of the rollers and of anything that turns, draw the exhaust gas out of the cell,
  keep a fire extinguisher and the stop button at hand, and never drive pulls alone.
  Limits shown are guides. The engine and component makers' figures, local codes and licensed practice come first.
  Changes to emission-related calibration are subject to local law. Leave emission controls in place and working.
`
