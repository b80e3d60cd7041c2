package delimited_test

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"dynolake/pipeline/read/delimited"
	"dynolake/pipeline/read/readtest"
	"dynolake/schema"
)

// kept is a sink that keeps the values.
type kept struct {
	drain
	values [][]float64
}

func (k *kept) Rows(_ int, b schema.Batch) error {
	for i, v := range b.Values {
		if len(k.values) == i {
			k.values = append(k.values, nil)
		}
		k.values[i] = append(k.values[i], v...)
	}
	return k.drain.Rows(0, b)
}

// written is a number as a log may hold it, with a point.
func written(rng *rand.Rand) string {
	digits := make([]byte, 1+rng.IntN([]int{2, 4, 8, 12, 20}[rng.IntN(5)]))
	for i := range digits {
		digits[i] = byte('0' + rng.IntN(10))
	}
	s := string(digits)
	if rng.IntN(4) > 0 {
		at := rng.IntN(len(s) + 1)
		s = s[:at] + "." + s[at:]
	}
	switch rng.IntN(12) {
	case 0, 1, 2:
		s = "-" + s
	case 3:
		s = "+" + s
	case 4:
		s += fmt.Sprintf("e%d", rng.IntN(12)-6)
	}
	return s
}

// What stands in a cell of a whole log is strconv.ParseFloat's float to the last bit, whatever stands beside it.
func TestLogEqualsParseFloat(t *testing.T) {
	const rows, channels = 6000, 25
	for _, c := range []struct{ name, delim, point, end string }{{"commas", ",", ".", "\n"}, {"semicolons", ";", ",", "\r\n"}, {"tabs", "\t", ".", "\r"}} {
		t.Run(c.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(7, uint64(len(c.name))))
			var b bytes.Buffer
			b.WriteString("Time [s]" + strings.Repeat(c.delim+"Channel [kPa]", channels))
			want := make([][]float64, channels)
			for r := range rows {
				b.WriteString(c.end + strings.Replace(strconv.FormatFloat(1+float64(r)/100, 'f', 2, 64), ".", c.point, 1))
				for i := range want {
					s, v := written(rng), math.NaN()
					switch rng.IntN(20) {
					case 0:
						s = ""
					case 1:
						s = "NaN"
					default:
						v, _ = strconv.ParseFloat(s, 64)
					}
					want[i] = append(want[i], v)
					s = strings.Replace(s, ".", c.point, 1)
					switch rng.IntN(20) {
					case 0:
						s = " " + s + " "
					case 1:
						s = `"` + s + `"`
					}
					b.WriteString(c.delim + s)
				}
			}
			k := &kept{}
			if err := (delimited.Reader{}).Read(t.Context(), readtest.Bytes("log.csv", b.Bytes()), k); err != nil {
				t.Fatal(err)
			}
			if k.rows != rows || len(k.values) != channels {
				t.Fatalf("%d rows of %d channels, want %d of %d", k.rows, len(k.values), rows, channels)
			}
			for i, values := range k.values {
				for r, v := range values {
					if w := want[i][r]; math.Float64bits(v) != math.Float64bits(w) && !(math.IsNaN(v) && math.IsNaN(w)) {
						t.Fatalf("row %d of channel %d: %v, want %v", r, i, v, w)
					}
				}
			}
		})
	}
}
