// Package demo makes an invented scenario: six vehicles on three platforms that do not exist, four calibrations each, driven for
// half a year by a small physical model and logged in every form that dynolake reads: delimited text of all dialects, workbooks, MDF 4,
// CAN bus logs (OBD-II, J1939 with a database), Parquet and Arrow files, packed or not. It is there so that
// the whole job can be shown and so that the lake's answers can be held against a truth that is known exactly.
//
// Terms. A plan is one run to be driven. A trace is what the model says of it, at its own step, without any sensor. A recorder turns
// traces into a log, with sensors' noise, quantisation, clock and dialect. The truth is read off traces that were driven without the
// pulls' own departures; it is the median over pulls of what each pull has, and does not pass through the lake's code.
//
// Invariants. Nothing depends on time of day, machine or map order: the same Model writes the same bytes. Every file says that it is
// invented, in its first lines or in its run sheet's, and every vehicle's id begins with "invented". No file is damaged beyond repair, so an
// ingest of the folder ends without anything set aside.
//
// A failure leaves the files that were written by then; a second call overwrites them.
//
// # The model
//
// Every parameter is invented; the formulas are these.
//
//	air        ṁ = η_v p V n / (120 R T) (1 − x_egr), speed–density (Heywood, Internal Combustion Engine Fundamentals, ch. 2; from memory)
//	fuel       what the asked brake torque, friction and pumping (p_turbine in − p_manifold) V/4π need at the indicated efficiency,
//	           not more than λ = the smoke limit lets the air burn; stoichiometric ratio 14.5, 42.8 MJ/kg
//	compressor T2 = T1 (1 + (Π^(2/7) − 1)/η_c), cooler T = T2 − ε (T2 − T_ambient)
//	turbine    power balance η_t η_m ṁ_e c_p T3 (1 − (p3/p4)^(−1/4)) = ṁ_a Δh_c + dE/dt of the shaft, E = J ω²/2, so p3 from the balance;
//	           the efficiency falls at high flow, and net drive with it outgrows boost. The vanes' area follows from the ellipse law
//	           p3² = p4² + (ṁ √T3 / A)² (Stodola, Steam and Gas Turbines; from memory), and its closed end limits how fast the boost can rise
//	boost      dp/dt = (target − p)/τ(n), limited as above; the target rises with load and speed
//	exhaust    tail ∝ ṁ² T / p; filter ∝ volume flow × (1 + 0.9 soot/full); soot grows by the day and is burnt off at full;
//	           a regeneration that is logged takes it off evenly, the gas at the filter 180 K hotter meanwhile
//	tyre       slip ∝ force, with a relaxation time; power at the roller is force × roller speed
//	inertia    (m_equivalent + m_rotating) dv/dt = T i η / r − friction(v), 40 CFR 1066.250
//	brake      speed is led at a rate; absorbed force = roller force − m_equivalent dv/dt
//	road       m dv/dt = force − (c0 + c1 v + c2 v²), 40 CFR 1066.301
//	converter  quasi-steady: a slip that grows with load, a torque ratio that falls to 1, and a lock-up that takes up the slip in 0.6 s
//	shift      the ratio eases from gear to gear in 0.5 s; the controller looks ahead so that the engine peaks at its schedule
//
// Left out: what the converter does to the engine's own inertia, heat soak of the cooler, EGR through the turbine, altitude.
// Integration is explicit with Model.Step; halving it changes no truth by 0.1 %.
//
//	truth, err := demo.Write(ctx, "demo")
//	for _, c := range truth.Cases {
//		fmt.Println(c.Vehicle, c.Calibration, c.PeakPowerKW, c.Onsets)
//	}
package demo
