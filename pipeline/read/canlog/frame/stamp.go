package frame

import (
	"strconv"
	"time"
	"unsafe"
)

// Form tells how a stamp is written.
type Form int

// A stamp is missing, seconds from 1970, seconds from some beginning, or a local date and time.
const (
	None Form = iota
	Epoch
	Seconds
	Date
)

// Stamp is a line's time. Seconds holds the number as written; of a date it is the seconds since 1970 as if it were UTC.
type Stamp struct {
	Form    Form
	Seconds float64
	Whole   int64   // Of a date: its whole seconds, so that differences lose nothing.
	Part    float64 // Of a date: the fraction of a second.
}

// epochFrom is the number of seconds from which a time counts from 1970: March 1973, longer than any recording.
const epochFrom = 1e8

func parseStamp(b []byte) (Stamp, bool) {
	for len(b) > 0 && b[0] == ' ' {
		b = b[1:]
	}
	if len(b) == 0 || len(b) > 40 {
		return Stamp{}, false
	}
	if len(b) > 10 && b[4] == '-' {
		return date(b)
	}
	for _, c := range b {
		if (c < '0' || c > '9') && c != '.' {
			return Stamp{}, false
		}
	}
	x, err := strconv.ParseFloat(unsafe.String(&b[0], len(b)), 64) // The string does not outlive the call.
	if err != nil {
		return Stamp{}, false
	}
	if x >= epochFrom {
		return Stamp{Form: Epoch, Seconds: x}, x < 1e11
	}
	return Stamp{Form: Seconds, Seconds: x}, true
}

// date reads YYYY-MM-DD HH:MM:SS with a fraction.
func date(b []byte) (Stamp, bool) {
	if len(b) < 19 || b[7] != '-' || (b[10] != ' ' && b[10] != 'T') || b[13] != ':' || b[16] != ':' {
		return Stamp{}, false
	}
	var n [7]int
	for i, at := range [...]int{0, 2, 5, 8, 11, 14, 17} {
		var ok bool
		if n[i], ok = decimal(b[at : at+2]); !ok {
			return Stamp{}, false
		}
	}
	month, day, hour, minute, second := n[2], n[3], n[4], n[5], n[6]
	part, ok := fraction(b[19:])
	if !ok || month < 1 || month > 12 || day < 1 || day > 31 || hour > 23 || minute > 59 || second > 60 {
		return Stamp{}, false
	}
	whole := time.Date(n[0]*100+n[1], time.Month(month), day, hour, minute, second, 0, time.UTC).Unix()
	return Stamp{Form: Date, Seconds: float64(whole) + part, Whole: whole, Part: part}, true
}

// fraction reads a point and digits, or nothing.
func fraction(b []byte) (float64, bool) {
	if len(b) == 0 {
		return 0, true
	}
	if b[0] != '.' || len(b) == 1 || len(b) > 13 {
		return 0, false
	}
	digits, scale := 0.0, 1.0
	for _, c := range b[1:] {
		if c < '0' || c > '9' {
			return 0, false
		}
		digits, scale = digits*10+float64(c-'0'), scale*10
	}
	return digits / scale, true
}
