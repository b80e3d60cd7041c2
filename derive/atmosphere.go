package derive

import (
	"errors"
	"fmt"
	"math"
)

// ErrOutsideValidity is returned where a correction standard does not apply: the factor is refused, never clamped.
var ErrOutsideValidity = errors.New("outside the standard's validity")

// Standard is a published correction to a reference atmosphere, in one edition.
type Standard struct {
	Name     string // As a run sheet names it.
	Title    string
	Formula  string
	Validity string
	Source   string
	Caution  string

	Withdrawn bool // Its own authors no longer hold the diesel factors good for engines of today.
}

// Standards lists the editions that a run sheet can name, the uncorrected none first.
func Standards() []Standard {
	const engine = "speaks of engine power; applied to wheel power by convention"
	const turbo = "compression ignition: fa^fm; turbocharged fa = (99/p_dry)^0.7 (T/298)^%s, else fa = (99/p_dry) (T/298)^0.7; fm = 0.036 qc - 1.14 between qc %s and 65, %s below, 1.2 above"
	const spark = "; spark ignition: (99/p_dry)^1.2 (T/298)^0.6"
	const sparkJ = "; spark ignition: 1.18 (99/p_dry) (T/298)^0.5 - 0.18"
	const range1 = "0.9 to 1.1; 283 to 313 K; dry pressure 80 to 110 kPa"
	const range2 = range1 + "; spark ignition 0.93 to 1.07, 288 to 308 K"
	return []Standard{
		{Name: "none", Title: "no correction", Formula: "corrected columns are NULL", Validity: "always", Source: "definition"},
		{Name: "iso1585-1992", Title: "ISO 1585:1992", Formula: fmt.Sprintf(turbo, "1.2 (air-to-air or no cooler) or 0.7 (liquid cooler)", "37.2", "0.2") + spark, Validity: range2,
			Source: "published restatements of ISO 1585; exponent pairing from memory", Caution: engine},
		{Name: "iso1585-1982", Title: "ISO 1585:1982, compression ignition", Formula: fmt.Sprintf(turbo, "1.5", "40", "0.3"), Validity: range1,
			Source: "published restatements of ISO 1585; exponents from memory", Caution: engine},
		{Name: "unr85", Title: "UN Regulation 85 Annex 5", Formula: fmt.Sprintf(turbo, "1.5", "40", "0.3") + spark, Validity: range2,
			Source: "UN R85 Annex 5 par. 5.4; exponents from memory", Caution: engine + "; withdrawn where the engine compensates ambient by itself (UNECE GRPE-70-02, 2014)", Withdrawn: true},
		{Name: "saej1349-2004", Title: "SAE J1349:2004", Formula: fmt.Sprintf(turbo, "1.2 (air-to-air or no cooler) or 0.7 (liquid cooler)", "37.2", "0.2") + sparkJ, Validity: range2,
			Source: "published restatements of SAE J1349; exponent pairing from memory", Caution: engine + "; its authors later said the diesel factors do not fit most modern diesels", Withdrawn: true},
		{Name: "saej607", Title: "SAE J607 (STD)", Formula: "factor = (29.92/p_dry[inHg]) sqrt((t_F + 460)/520)", Validity: "none stated",
			Source: "secondary pages; the standard itself was not seen", Caution: engine},
		{Name: "din70020", Title: "DIN 70020", Formula: "factor = (1013/p[mbar]) sqrt(T/293), total pressure", Validity: "none stated",
			Source: "reference conditions from secondary pages; formula from memory", Caution: engine},
	}
}

// Atmosphere is what a correction stands on.
type Atmosphere struct {
	Dry       AbsKPa  // Inlet pressure less vapour pressure, kPa.
	Total     AbsKPa  // Inlet pressure, kPa.
	TempC     float64 // Inlet air, °C.
	FuelMgLC  float64 // Fuel per litre of displacement and cycle, mg.
	Charge    float64 // Compressor outlet over ambient, absolute; 1 unboosted.
	LiquidCAC bool    // The charge cooler is cooled by liquid.
	Spark     bool    // Spark ignition: fuel and charge do not matter.
	Unturbo   bool    // Compression ignition without a turbocharger: naturally aspirated or mechanically charged.
}

// CorrectionFactor gives the factor to multiply measured power with, by the named edition. It returns ErrOutsideValidity
// where the edition does not apply, and an error for an unknown name. NaN inputs give NaN.
func CorrectionFactor(standard string, a Atmosphere) (float64, error) {
	if a.Spark {
		switch standard {
		case "iso1585-1992", "unr85":
			return SparkFactor(a.Dry, Celsius(a.TempC))
		case "saej1349-2004":
			return SparkFactorJ1349(a.Dry, Celsius(a.TempC))
		case "iso1585-1982":
			return math.NaN(), fmt.Errorf("correct a spark-ignition engine to %q: %w: no formula of this edition is held", standard, ErrOutsideValidity)
		}
	}
	switch standard {
	case "iso1585-1992", "saej1349-2004":
		m := 1.2
		if a.LiquidCAC {
			m = 0.7
		}
		return diesel(a, m, 37.2, 0.2)
	case "iso1585-1982", "unr85":
		return diesel(a, 1.5, 40, 0.3)
	case "saej607":
		const inHg = 3.386388640341
		return 29.92 / (float64(a.Dry) / inHg) * math.Sqrt((a.TempC*1.8+32+460)/520), nil
	case "din70020":
		return 101.3 / float64(a.Total) * math.Sqrt((a.TempC+273.15)/293), nil
	}
	return math.NaN(), fmt.Errorf("correct to standard %q: no such standard", standard)
}

// diesel is fa^fm for compression-ignition engines: turbocharged with T in K to the power m, else (99/p) (T/298)^0.7; fm's floor below qc = from.
// Valid for factors 0.9 to 1.1, 283 to 313 K and dry pressures of 80 to 110 kPa (published restatements of ISO 1585).
func diesel(a Atmosphere, m, from, floor float64) (float64, error) {
	t, p := a.TempC+273.15, float64(a.Dry)
	if math.IsNaN(t+p+a.FuelMgLC+a.Charge) || a.Charge <= 0 {
		return math.NaN(), nil
	}
	if t < 283 || t > 313 || p < 80 || p > 110 {
		return math.NaN(), ErrOutsideValidity
	}
	air := AirFactor(p, t, 0.7, m)
	if a.Unturbo {
		air = AirFactor(p, t, 1, 0.7)
	}
	factor := math.Pow(air, EngineFactor(a.FuelMgLC/a.Charge, from, floor))
	if factor < 0.9 || factor > 1.1 {
		return math.NaN(), ErrOutsideValidity
	}
	return factor, nil
}

// AirFactor is fa = (99/p)^m1 (T/298)^m2 with p the dry inlet pressure in kPa and T the inlet temperature in K: m1 1 and m2
// 0.7 for engines without a turbocharger, 0.7 and 1.5, 1.2 or 0.7 with one, by edition.
func AirFactor(p, t, m1, m2 float64) float64 { return math.Pow(99/p, m1) * math.Pow(t/298, m2) }

// EngineFactor is fm for qc in mg per litre and cycle over the charge ratio: 0.036 qc - 1.14 from the edition's lower bound
// to 65, its floor below and 1.2 above (UN R85 Annex 5).
func EngineFactor(qc, from, floor float64) float64 {
	switch {
	case qc < from:
		return floor
	case qc > 65:
		return 1.2
	}
	return 0.036*qc - 1.14
}

// FuelPerLitreCycle is q = 120000 m / (V n) in mg per litre and cycle for a four-stroke (60000 for a two-stroke): fuel in
// g/s, displacement in L, engine speed in 1/min. NaN at standstill.
func FuelPerLitreCycle(fuelGS, litres, rpm float64, strokes int) float64 {
	z := 120000.0
	if strokes == 2 {
		z = 60000
	}
	if rpm <= 0 || litres <= 0 {
		return math.NaN()
	}
	return z * fuelGS / (litres * rpm)
}

// VapourPressure is the saturation pressure of water over liquid, kPa, at a temperature in °C: equation 30 of the IAPWS
// Industrial Formulation 1997, valid from 0 °C to 373.9 °C; NaN outside.
func VapourPressure(c float64) float64 {
	t := c + 273.15
	if t < 273.15 || t > 647.096 {
		return math.NaN()
	}
	v := t - 0.23855557567849/(t-650.17534844798)
	a := v*v + 1167.0521452767*v - 724213.16703206
	b := -17.073846940092*v*v + 12020.82470247*v - 3232555.0322333
	d := 14.91510861353*v*v - 4823.2657361591*v + 405113.40542057
	return 1000 * math.Pow(2*d/(-b+math.Sqrt(b*b-4*a*d)), 4)
}

// DryPressure takes the vapour's share from a total pressure: relative humidity in %, temperature in °C.
func DryPressure(total AbsKPa, humidityPct, c float64) AbsKPa {
	return total - AbsKPa(humidityPct/100)*WaterVapour(c)
}
