package demo

// engine is an invented four-stroke diesel. Pressures in kPa, speeds in 1/min, torques in N·m.
type engine struct {
	litres    float64
	cylinders float64
	idle      float64
	stall     float64    // Engine speed at full load against a standing converter.
	torque    curve      // Stock full-load brake torque by engine speed.
	boost     curve      // Stock full-load boost target by engine speed.
	friction  [2]float64 // Friction torque: constant, and per 1000 1/min.
	work      float64    // Indicated efficiency with plenty of air.
	breathing float64    // Volumetric efficiency referred to the manifold.
	inertia   float64    // kg·m².
	from, to  float64    // Speeds at which a pull begins and ends.
	rail      float64    // Rail pressure at full load and rated speed, kPa.
	ratedKW   float64    // Stock engine power as the vehicle's papers would state it.
	ratedRPM  float64
}

// turbo is an invented turbocharger with variable vanes.
type turbo struct {
	flow       float64 // Air flow that it is laid out for, kg/s at 298 K and 100 kPa.
	compressor float64 // Wheel diameter, m.
	turbine    float64 // Wheel diameter, m.
	inertia    float64 // kg·m².
	lag        float64 // Time constant of the boost at lagSpeed, s.
	lagSpeed   float64 // Engine speed, 1/min.
	efficiency float64 // Compressor × turbine × mechanical at its best.
	choke      float64 // Share of flow from which the efficiency falls.
	fall       float64 // Efficiency lost per square of the flow share beyond it.
}

// exhaust is what follows the turbine.
type exhaust struct {
	tail   float64 // Loss at the turbo's flow and 800 K, filter apart, kPa.
	filter float64 // Loss of the clean filter at that flow, kPa.
	daily  float64 // Soot gathered a day, g.
	full   float64 // Soot at which the filter is regenerated, g.
}

// driveline is gears, final drive, tyre and converter.
type driveline struct {
	ratios     []float64
	final      float64
	radius     float64 // m.
	efficiency float64
	wheels     float64 // Inertia of wheels and shafts, kg·m².
	grip       float64 // Tractive force per unit of tyre slip, N.
	mass       float64 // kg.
	road       [3]float64
	automatic  bool
	lockGear   int     // Lowest gear in which the converter locks.
	lockSpeed  float64 // Turbine speed above which it does, 1/min.
	shiftLow   float64 // Upshift speed at no pedal, 1/min.
	shiftHigh  float64 // Upshift speed at full pedal.
	pullGear   int
}

// ratio is the overall one, 0 in neutral.
func (d driveline) ratio(gear int) float64 {
	if gear < 1 || gear > len(d.ratios) {
		return 0
	}
	return d.ratios[gear-1] * d.final
}

// shiftSpeed is the engine speed at which an upshift out of gear happens at the pedal, %.
func (d driveline) shiftSpeed(gear int, pedal float64) float64 {
	p := pedal / 100
	return d.shiftLow + (d.shiftHigh-d.shiftLow)*p*(0.4+0.6*p) - 0.01*d.shiftHigh*float64(gear-1)
}

// step is one calibration: factors on the stock curves.
type step struct {
	name   string
	torque float64
	boost  float64
	lambda float64 // Least λ that the smoke limit lets pass.
}

// bench is an invented dyno. Mass in kg, friction in N, N/(km/h), N/(km/h)².
type bench struct {
	id, kind string
	mass     float64
	friction [3]float64
}

// vehicle is everything that is invented about one vehicle.
type vehicle struct {
	id, platform, duty string
	like               string  // The id of the demo's own vehicle whose make-up and loggers it has.
	basis              string  // What the loggers allow: outlet, system or gross.
	sweep              float64 // A brake's sweep rate, 1/min per second; 0 on an inertia dyno.
	bench              bench
	engine             engine
	turbo              turbo
	exhaust            exhaust
	drive              driveline
	steps              []step
}

// resistance is c0 + c1 v + c2 v² in N, with v in m/s and the coefficients per km/h; it fades out at standstill.
func resistance(c [3]float64, v float64) float64 {
	k := v * 3.6
	return (c[0] + c[1]*k + c[2]*k*k) * clamp(v/0.5, 0, 1)
}
