package derive

import (
	"math"
	"testing"
)

// The worked values of 40 CFR 1065.645, by its own formula.
func TestHumidityOfTheRegulation(t *testing.T) {
	near(t, "at a dew point of 9.5 °C", GoffGratch(9.5), 1.186581, 1e-6)
	near(t, "at 20 °C", GoffGratch(20), 2.3371, 5e-5)
	near(t, "mole fraction", WaterFraction(AbsKPa(GoffGratch(9.5)), 99.980), 0.011868, 1e-6)
	near(t, "of 50.77 %", 0.5077*GoffGratch(20)/99.980, 0.011868, 2e-6)
	near(t, "of 39.61 %", 0.3961*GoffGratch(20), 0.925717, 2e-5)
}

// What the regulation's dew point says, by the formula that this program reckons with: its saturation pressure is 0.1 % above.
func TestRelativeHumidityOfADewPoint(t *testing.T) {
	near(t, "9.5 °C at 20 °C", RelativeHumidity(DewPointVapour(9.5), 20), 50.77, 0.02)
	near(t, "saturated", RelativeHumidity(DewPointVapour(15), 15), 100, 1e-9)
	near(t, "in frost", RelativeHumidity(DewPointVapour(-5), -5), 100, 1e-9)
	if got := RelativeHumidity(DewPointVapour(25), 20); !math.IsNaN(got) {
		t.Errorf("a dew point above the air's temperature gave %g", got)
	}
}

// A psychrometer's table: 68 °F dry and 62 °F wet is 71 % (US Army TM 5-3610-285-14); 20 °C and 15 °C is 59 % (from memory); both in whole percents.
func TestRelativeHumidityOfAWetBulb(t *testing.T) {
	for _, p := range []struct{ dry, wet, want float64 }{{20, (62 - 32) / 1.8, 71}, {20, 15, 59}, {25, 25, 100}} {
		near(t, "wet bulb", RelativeHumidity(WetBulbVapour(p.wet, p.dry, 101.325), p.dry), p.want, 0.7)
	}
	for _, p := range []struct{ dry, wet float64 }{{20, 21}, {2, -1}, {45, 5}} {
		if got := WetBulbVapour(p.wet, p.dry, 101.325); !math.IsNaN(float64(got)) {
			t.Errorf("%g dry, %g wet: %g, want none", p.dry, p.wet, got)
		}
	}
}

// At 0 °C two sources meet: 0.61129 of the CRC Handbook; over supercooled water at -10 °C 0.2863 kPa (Smithsonian tables, from memory).
func TestWaterVapourAcrossFreezing(t *testing.T) {
	near(t, "0 °C", float64(WaterVapour(0)), 0.61129, 0.0005*0.61129)
	near(t, "just below", float64(WaterVapour(-1e-9)), 0.61129, 0.0011*0.61129)
	near(t, "-10 °C", float64(WaterVapour(-10)), 0.2863, 0.0015)
	if v := DryPressure(100, 50, -5); math.IsNaN(float64(v)) {
		t.Error("no dry pressure in frost")
	}
	for _, c := range []float64{-51, 101, math.NaN()} {
		if got := GoffGratch(c); !math.IsNaN(got) {
			t.Errorf("%g °C: %g, want none", c, got)
		}
	}
}
