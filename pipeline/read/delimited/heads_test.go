package delimited_test

import (
	"fmt"
	"strings"
	"testing"

	"dynolake/pipeline/read"
	"dynolake/pipeline/read/delimited"
	"dynolake/pipeline/read/readtest"
)

// A wide log whose heads sound like those of a table with a row a value stays wide; a table with a row a value and a few columns beside stays one.
func TestHeadsOfEitherLayout(t *testing.T) {
	for name, c := range map[string]struct {
		head, row string // The row has its number in it, twice where a name goes with it.
		series    int
		channels  int
	}{
		"quantity and value":    {"Time [s],RPM,Injection quantity [mg],Boost [kPa],Lambda value [-],Pedal [%%]", "%[1]d,%[1]d,5%[2]d,1%[1]d,2.%[1]d,3%[2]d", 1, 5},
		"texts that stand":      {"Time [s],RPM,Active sensor,Boost [kPa],Lambda value,Pedal [%%]", "%[1]d,%[1]d,lower,1%[1]d,2.%[1]d,3%[2]d", 1, 5},
		"names beside numbers":  {"Time [s],Bus,Id,Signal,Value,Raw,Length", "%[1]d,1,%[2]d,name %[2]d,%[1]d,%[1]d,8", 3, 1},
		"numbered names":        {"Time [s],PID,Value,Raw", "%[1]d,1%[2]d,%[1]d,%[1]d", 3, 1},
		"names, values, a unit": {"Time [s];Channel;Value;Unit", "%[1]d;name %[2]d;%[1]d;kPa", 3, 1},
	} {
		var b strings.Builder
		b.WriteString(strings.ReplaceAll(c.head, "%%", "%") + "\n")
		for i := range 60 {
			fmt.Fprintf(&b, c.row+"\n", i, i%3)
		}
		logs, err := read.Collect(t.Context(), delimited.Reader{}, readtest.Bytes("a.csv", []byte(b.String())))
		if err != nil || len(logs) != 1 {
			t.Fatalf("%s: %d logs, %v", name, len(logs), err)
		}
		if l := logs[0]; len(l.Series) != c.series || len(l.Series[0].Channels) != c.channels || c.series == 1 && len(l.Series[0].T) != 60 {
			t.Errorf("%s: %d series, the first of %d channels and %d rows, want %d of %d", name, len(l.Series), len(l.Series[0].Channels), len(l.Series[0].T), c.series, c.channels)
		}
	}
}
