package mapping

import (
	"math"
	"testing"

	"dynolake/schema"
)

// BenchmarkRun settles a run of 60 channels and 3000 rows, an ordinary pull's log.
func BenchmarkRun(b *testing.B) {
	d := bed{stop: 20, idle: 180, pull: 100, baro: 99}
	channels := []ch{{"Engine RPM", "rpm", rpm}, {"Pedal", "%", pedal}, {"Boost", "psi", func(p point) float64 { return p.boost / psi }}, {"MAP", "kPa", func(p point) float64 { return p.boost + p.baro }},
		{"Torque", "Nm", func(p point) float64 { return p.power * 9549.297 / max(p.rpm, 1) }}, {"Power", "kW", func(p point) float64 { return p.power }}}
	for k := range 54 {
		channels = append(channels, ch{schema.Columns()[1+k%45].Name, "", func(p point) float64 { return 60 + 10*math.Sin(p.t+float64(k)) }})
	}
	logs := []schema.Log{d.log("a.csv", channels...)}
	b.ReportAllocs()
	for b.Loop() {
		if claims, _ := settle(logs, Rules{}, Context{}); len(claims) != 60 {
			b.Fatal("claims are missing")
		}
	}
}
