package derive

import "math"

// GoffGratch is the saturation pressure of water over liquid in kPa, over supercooled liquid below 0 °C, at a temperature in °C, as 40 CFR 1065.645 has it: log10 p = 10.79574 (1 - T0/T) -
// 5.02800 log10(T/T0) + 1.50475e-4 (1 - 10^(-8.2969 (T/T0 - 1))) + 0.42873e-3 (10^(4.76955 (1 - T0/T)) - 1) - 0.2138602, T0 = 273.16 K. Valid from
// -50 °C to 100 °C; NaN outside.
func GoffGratch(c float64) float64 {
	if !(c >= -50 && c <= 100) {
		return math.NaN()
	}
	const t0 = 273.16
	r := (c + 273.15) / t0
	return math.Pow(10, 10.79574*(1-1/r)-5.02800*math.Log10(r)+1.50475e-4*(1-math.Pow(10, -8.2969*(r-1)))+0.42873e-3*(math.Pow(10, 4.76955*(1-1/r))-1)-0.2138602)
}

// WaterVapour is the saturation pressure that humidity is reckoned with, at a temperature in °C: VapourPressure (IAPWS-IF97, equation 30) from 0 °C up, GoffGratch over
// supercooled water below, as hygrometers and weather services state humidity. The two differ by 0.09 % at 0 °C.
func WaterVapour(c float64) AbsKPa {
	if c < 0 {
		return AbsKPa(GoffGratch(c))
	}
	return AbsKPa(VapourPressure(c))
}

// DewPointVapour is the pressure of the vapour in air of a dew point in °C: that of saturation there (definition).
func DewPointVapour(dew float64) AbsKPa { return WaterVapour(dew) }

// WetBulbVapour is the pressure of the vapour in air by a ventilated psychrometer: e_s(t_w) - 6.53e-4 (1 + 0.000944 t_w) p (t - t_w), kPa, with the wet bulb t_w and
// the dry t in °C and the air's pressure p in kPa (WMO-No. 8, annex 4.B; from memory). For a wet bulb that is no ice: NaN below 0 °C, above
// the dry one, and where the air would be drier than dry.
func WetBulbVapour(wet, dry float64, p AbsKPa) AbsKPa {
	v := WaterVapour(wet) - AbsKPa(6.53e-4*(1+0.000944*wet)*(dry-wet))*p
	if !(wet >= 0 && wet <= dry && v >= 0) {
		return AbsKPa(math.NaN())
	}
	return v
}

// RelativeHumidity is a vapour's pressure over that of saturation at the air's temperature in °C, in % (definition); NaN above 102 %, which is a
// mistake or fog.
func RelativeHumidity(vapour AbsKPa, c float64) float64 {
	rh := 100 * float64(vapour/WaterVapour(c))
	if rh > 102 {
		return math.NaN()
	}
	return math.Min(rh, 100)
}

// WaterFraction is the mole fraction of water in air, vapour over total pressure (ideal gases; 40 CFR 1065.645).
func WaterFraction(vapour, total AbsKPa) float64 { return vapour.Over(total) }
