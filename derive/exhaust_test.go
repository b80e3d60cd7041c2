package derive

import (
	"math"
	"testing"
)

// Ideal gas: 1.2928 kg of dry air fill a cubic metre at 0 °C and 101.325 kPa (the normal density of air; CRC Handbook, from memory).
func TestVolumeFlow(t *testing.T) {
	near(t, "normal state", VolumeFlow(1.2928, State{101.325, Celsius(0)}), 1, 6e-4) // Real air is 0.06 % denser than an ideal gas.
	near(t, "twice the temperature", VolumeFlow(0.1, State{100, 600}), 2*VolumeFlow(0.1, State{100, 300}), 1e-12)
	near(t, "twice the pressure", VolumeFlow(0.1, State{200, 600}), VolumeFlow(0.1, State{100, 300}), 1e-12)
	for name, v := range map[string]float64{"no pressure": VolumeFlow(1, State{0, 300}), "missing temperature": VolumeFlow(1, State{100, Celsius(nan)}), "backwards": VolumeFlow(-1, State{100, 300}), "missing flow": VolumeFlow(KgPerS(nan), State{100, 300})} {
		if !math.IsNaN(v) {
			t.Errorf("%s: %v, want none", name, v)
		}
	}
}

func TestFilterResistance(t *testing.T) {
	near(t, "8 kPa at 0.25 m³/s", FilterResistance(8, 0.25), 32, 1e-12)
	near(t, "the least flow", FilterResistance(1, 0.02), 50, 1e-12)
	for _, flow := range []float64{0.0199, 0, -1, nan} {
		if v := FilterResistance(1, flow); !math.IsNaN(v) {
			t.Errorf("FilterResistance at %v m³/s = %v, want none", flow, v)
		}
	}
}
