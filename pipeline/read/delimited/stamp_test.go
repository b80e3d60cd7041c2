package delimited

import (
	"math"
	"testing"
	"time"
)

func TestParseStamp(t *testing.T) {
	for cell, want := range map[string]string{
		"2019-03-05 19:30:27":                "2019-03-05T19:30:27Z",
		"2019-03-05T19:30:27.123456Z":        "2019-03-05T19:30:27.123456Z",
		"2019-03-05T19:30:27+02:00":          "2019-03-05T17:30:27Z",
		"2019-03-05T00:30:27 +0200":          "2019-03-04T22:30:27Z",
		"2019-03-05 23:30:27-05":             "2019-03-06T04:30:27Z",
		"2019/03/05 19:30":                   "2019-03-05T19:30:00Z",
		"05.03.2019 19:30:27,5":              "2019-03-05T19:30:27.5Z",
		"5.3.19 7:30:27":                     "2019-03-05T07:30:27Z",
		"05/03/2019 19:30:27:250":            "2019-03-05T19:30:27.25Z",
		"25/03/2019 19:30:27":                "2019-03-25T19:30:27Z",
		"03/25/2019 7:30:27 PM":              "2019-03-25T19:30:27Z",
		"3/25/2019 12:00:01 a.m.":            "2019-03-25T00:00:01Z",
		"05-Mar-2019 19:30:27.123":           "2019-03-05T19:30:27.123Z",
		"5 Mar 2019, 19:30:27":               "2019-03-05T19:30:27Z",
		"05-Okt-2019 19:30:27":               "2019-10-05T19:30:27Z",
		"5. März 2019":                       "",
		"Tue Mar 05 19:30:27 2019":           "2019-03-05T19:30:27Z",
		"Tue Mar 05 19:30:27 GMT 2019":       "2019-03-05T19:30:27Z",
		"Tue Mar 05 19:30:27 GMT+01:00 2019": "2019-03-05T18:30:27Z",
		"Tue, 5 Mar 2019 19:30:27 GMT":       "2019-03-05T19:30:27Z",
		"Mar 5, 2019 7:30:27 PM":             "2019-03-05T19:30:27Z",
		"20190305T193027":                    "2019-03-05T19:30:27Z",
		"20190305 193027.5":                  "2019-03-05T19:30:27.5Z",
		"2019-03-05_19:30:27":                "2019-03-05T19:30:27Z",
		"2019-03-05":                         "2019-03-05T00:00:00Z",
		"2019-02-30 10:00:00":                "",
		"2019-13-01 10:00:00":                "",
		"19:30:27.5":                         "1970-01-01T19:30:27.5Z",
		"7:30:27 PM":                         "1970-01-01T19:30:27Z",
		"12:00:00 AM":                        "1970-01-01T00:00:00Z",
		"3:05.2":                             "1970-01-01T00:03:05.2Z",
		"100:00:05":                          "1970-01-05T04:00:05Z",
		"19:61:00":                           "",
		"14:00:00 PM":                        "",
		"hello 12:00:00":                     "",
		"12:":                                "",
		"":                                   "",
		"2019-03-05 19:30:27 CET":            "2019-03-05T19:30:27Z",
		"Tue Mar 05 19:30:27 CET 2019":       "2019-03-05T19:30:27Z",
		"2019-03-05 19:30:27 soon":           "",
	} {
		s, ok := parseStamp([]byte(cell), false)
		got := ""
		if ok {
			got = time.Unix(0, s.at()).UTC().Format(time.RFC3339Nano)
		}
		if got != want {
			t.Errorf("parseStamp(%q) = %q, want %q", cell, got, want)
		}
	}
	if s, ok := parseStamp([]byte("03/05/2019"), true); !ok || s.days != time.Date(2019, 3, 5, 0, 0, 0, 0, time.UTC).Unix()/86400 || s.order != either {
		t.Errorf("month first: %+v", s)
	}
}

// Times of a part, then what the follower says of the next one.
func TestFollower(t *testing.T) {
	for _, c := range []struct {
		name  string
		form  form
		times []float64
		want  event
		at    float64
	}{
		{"onward", elapsed, []float64{0, 1, 2, 3}, onward, 3},
		{"jitter", elapsed, []float64{0, 1, 2, 1.5}, onward, 1.5},
		{"jitter at the beginning", elapsed, []float64{0, 0.1, 0.2, 0.05}, onward, 0.05},
		{"restart", elapsed, []float64{0, 1, 2, 3, 4, 0}, fellBack, 0},
		{"restart near the beginning", elapsed, []float64{10, 20, 30, 40, 110, 12}, fellBack, 12},
		{"set back half way", elapsed, []float64{0, 10, 20, 30, 40, 25}, onward, 25},
		{"fast jitter", elapsed, []float64{0, 0.01, 0.02, 0.03, 0.02}, onward, 0.02},
		{"midnight", timeOfDay, []float64{86398, 86399, 0.5}, wrapped, 86400.5},
		{"the hour", minSec, []float64{3590, 3599, 0.5}, wrapped, 3600.5},
		{"a counter of 16 bits", elapsed, []float64{65.480, 65.500, 65.520, 0.004}, wrapped, 65.540},
		{"after a gap", elapsed, []float64{0, 1, 2, 30000, 30001, 30002, 0}, fellBack, 0},
	} {
		f := follower{tick: 0.001}
		var got event
		var at float64
		for _, x := range c.times {
			at, got = f.next(x, c.form)
		}
		if got != c.want || math.Abs(at-c.at) > 1e-9 {
			t.Errorf("%s: event %d at %v, want %d at %v", c.name, got, at, c.want, c.at)
		}
	}
}
