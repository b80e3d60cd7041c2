package demo

// The fleet is invented: no figure here was measured on anything, and no name means a real thing.

func steps(torque, boost, lambda [4]float64) []step {
	out := make([]step, 4)
	for i, name := range [...]string{"stock", "step1", "step2", "step3"} {
		out[i] = step{name: name, torque: torque[i], boost: boost[i], lambda: lambda[i]}
	}
	return out
}

// fleet is the demo's own six vehicles on three platforms.
func fleet() []*vehicle {
	carA := car("invented-car-a", "system", 1)
	carA.steps = steps([4]float64{1, 1.07, 1.17, 1.26}, [4]float64{1, 1.045, 1.216, 1.37}, [4]float64{1.1, 1.1, 1.1, 1.08})
	carB := car("invented-car-b", "outlet", 1.01)
	carB.steps = steps([4]float64{1, 1.1, 1.1, 1.24}, [4]float64{1, 1.06, 1.06, 1.245}, [4]float64{1.1, 1.1, 1.1, 1.08})
	vanC := van("invented-van-c", "outlet", 1)
	vanC.steps = steps([4]float64{1, 1.05, 1.18, 1.32}, [4]float64{1, 1.045, 1.257, 1.46}, [4]float64{1.1, 1.1, 1.1, 1.08})
	vanD := van("invented-van-d", "gross", 1.01)
	vanD.steps = steps([4]float64{1, 1.05, 1.13, 1.24}, [4]float64{1, 1.045, 1.23, 1.42}, [4]float64{1.1, 1.1, 1.1, 1.08})
	truckE := truck("invented-truck-e", "outlet", 1)
	truckE.steps = steps([4]float64{1, 1.05, 1.16, 1.28}, [4]float64{1, 1.042, 1.231, 1.415}, [4]float64{1.25, 1.22, 1.2, 1.18})
	truckF := truck("invented-truck-f", "system", 1.01)
	truckF.steps = steps([4]float64{1, 1.06, 1.18, 1.32}, [4]float64{1, 1.048, 1.245, 1.43}, [4]float64{1.25, 1.22, 1.2, 1.18})
	all := []*vehicle{carA, carB, vanC, vanD, truckE, truckF}
	for _, v := range all {
		v.like = v.id
	}
	return all
}

// car is light and manual, measured on inertia rollers. size is the turbo's, 1 for the platform's own.
func car(id, basis string, size float64) *vehicle {
	return &vehicle{
		id: id, platform: "invented-light-2l", duty: "light", basis: basis,
		bench: bench{id: "invented-inertia-rollers", kind: "inertia", mass: 1250, friction: [3]float64{60, 0.4, 0.004}},
		engine: engine{
			litres: 2, cylinders: 4, idle: 820, stall: 820, from: 1500, to: 4150, ratedKW: 135, ratedRPM: 3850,
			torque: newCurve(10, []float64{700, 1000, 1250, 1500, 1750, 2000, 2500, 3000, 3500, 3850, 3950, 4100, 4300},
				[]float64{100, 170, 235, 295, 335, 345, 346, 345, 341, 336, 316, 255, 170}),
			boost: newCurve(10, []float64{800, 1250, 1500, 1750, 2000, 2500, 3000, 3500, 3850, 4000, 4300},
				[]float64{8, 55, 92, 122, 136, 145, 147, 144, 140, 128, 95}),
			friction: [2]float64{14, 6}, work: 0.46, breathing: 0.9, inertia: 0.22, rail: 170000,
		},
		turbo:   turbo{flow: 0.158 * size, compressor: 0.046, turbine: 0.04, inertia: 2.2e-5, lag: 0.3, lagSpeed: 2000, efficiency: 0.452, choke: 0.5, fall: 0.41},
		exhaust: exhaust{tail: 13, filter: 5, daily: 0.33, full: 24},
		drive: driveline{
			ratios: []float64{3.7, 2, 1.32, 0.96, 0.76, 0.63}, final: 3.6, radius: 0.315, efficiency: 0.92, wheels: 3.2, grip: 200000,
			mass: 1560, road: [3]float64{150, 0.5, 0.031}, pullGear: 4,
		},
	}
}

// van is light with an automatic, measured on a brake dyno.
func van(id, basis string, size float64) *vehicle {
	return &vehicle{
		id: id, platform: "invented-light-3l", duty: "light", basis: basis, sweep: 170,
		bench: bench{id: "invented-brake-rollers", kind: "brake", mass: 380},
		engine: engine{
			litres: 3, cylinders: 6, idle: 700, stall: 1700, from: 1450, to: 4050, ratedKW: 188, ratedRPM: 3750,
			torque: newCurve(10, []float64{600, 1000, 1250, 1500, 1750, 2000, 2500, 3000, 3500, 3750, 3850, 4000, 4200},
				[]float64{170, 290, 390, 465, 490, 495, 496, 494, 486, 479, 452, 366, 250}),
			boost: newCurve(10, []float64{700, 1250, 1500, 1750, 2000, 2500, 3000, 3500, 3750, 3900, 4200},
				[]float64{8, 60, 95, 117, 129, 139, 143, 141, 138, 126, 90}),
			friction: [2]float64{20, 8}, work: 0.46, breathing: 0.9, inertia: 0.34, rail: 180000,
		},
		turbo:   turbo{flow: 0.237 * size, compressor: 0.054, turbine: 0.047, inertia: 4.8e-5, lag: 0.34, lagSpeed: 2000, efficiency: 0.435, choke: 0.5, fall: 0.36},
		exhaust: exhaust{tail: 13, filter: 5.5, daily: 0.45, full: 34},
		drive: driveline{
			ratios: []float64{4.1, 2.35, 1.52, 1.15, 0.86, 0.68}, final: 3.7, radius: 0.34, efficiency: 0.9, wheels: 5, grip: 300000,
			mass: 2950, road: [3]float64{260, 0.8, 0.055}, automatic: true, lockGear: 3, lockSpeed: 1250,
			shiftLow: 1650, shiftHigh: 3900, pullGear: 4,
		},
	}
}

// truck is heavy with an automatic, measured on a brake dyno.
func truck(id, basis string, size float64) *vehicle {
	return &vehicle{
		id: id, platform: "invented-heavy-11l", duty: "heavy", basis: basis, sweep: 65,
		bench: bench{id: "invented-truck-rollers", kind: "brake", mass: 2600},
		engine: engine{
			litres: 11, cylinders: 6, idle: 580, stall: 1250, from: 1000, to: 1980, ratedKW: 366, ratedRPM: 1860,
			torque: newCurve(5, []float64{500, 700, 850, 1000, 1150, 1300, 1450, 1600, 1750, 1860, 1920, 2000, 2100},
				[]float64{650, 1000, 1400, 1760, 1900, 1920, 1920, 1912, 1895, 1878, 1770, 1400, 900}),
			boost: newCurve(5, []float64{580, 850, 1000, 1150, 1300, 1450, 1600, 1750, 1860, 1950, 2100},
				[]float64{10, 95, 130, 148, 159, 167, 171, 171, 168, 150, 105}),
			friction: [2]float64{50, 60}, work: 0.47, breathing: 0.92, inertia: 2.6, rail: 190000,
		},
		turbo:   turbo{flow: 0.504 * size, compressor: 0.088, turbine: 0.08, inertia: 3.6e-4, lag: 0.5, lagSpeed: 1200, efficiency: 0.46, choke: 0.5, fall: 0.4},
		exhaust: exhaust{tail: 11, filter: 6, daily: 1.3, full: 95},
		drive: driveline{
			ratios: []float64{3.5, 1.9, 1.42, 1, 0.74, 0.64}, final: 3.4, radius: 0.5, efficiency: 0.92, wheels: 90, grip: 1300000,
			mass: 9600, road: [3]float64{600, 2, 0.24}, automatic: true, lockGear: 3, lockSpeed: 900,
			shiftLow: 1330, shiftHigh: 2000, pullGear: 3,
		},
	}
}
