package workbook

import (
	"context"
	"encoding/xml"
	"math"
	"strconv"
	"strings"
	"time"
)

// format says what a cell's number means.
type format int

const (
	plain   format = iota
	date           // A date alone.
	instant        // A date and time.
	clock          // A time, of day or elapsed.
	percent
)

// styles reads what number format each cell style has.
func (b *book) styles(ctx context.Context) error {
	if _, ok := b.files["xl/styles.xml"]; !ok {
		return nil
	}
	codes, inside := map[int]string{}, false
	return b.each(ctx, "xl/styles.xml", func(_ *xml.Decoder, e xml.StartElement) error {
		switch e.Name.Local {
		case "numFmt":
			if id, err := strconv.Atoi(attr(e, "numFmtId")); err == nil {
				codes[id] = attr(e, "formatCode")
			}
		case "cellXfs":
			inside = true
		case "cellStyles", "cellStyleXfs", "dxfs":
			inside = false
		case "xf":
			if inside {
				id, _ := strconv.Atoi(attr(e, "numFmtId")) // Without one it is 0, the general format.
				b.formats = append(b.formats, formatOf(id, codes))
			}
		}
		return nil
	})
}

// formatOf tells a number format by its code, or by its number where that is built in (ECMA-376 part 1, 18.8.30).
func formatOf(id int, codes map[int]string) format {
	if code, ok := codes[id]; ok {
		return coded(code)
	}
	switch {
	case id == 9 || id == 10:
		return percent
	case id == 22:
		return instant
	case id >= 14 && id <= 17, id >= 27 && id <= 31, id == 36, id >= 50 && id <= 54, id == 57, id == 58:
		return date
	case id >= 18 && id <= 21, id >= 32 && id <= 35, id >= 45 && id <= 47, id == 55, id == 56:
		return clock
	}
	return plain
}

// coded reads a format code: what stands in quotes, in brackets or behind a backslash is no part of it, save elapsed times such as [h].
func coded(code string) format {
	code, _, _ = strings.Cut(bare(strings.ToLower(code)), ";")
	if strings.Contains(code, "general") {
		return plain
	}
	days := strings.ContainsAny(code, "yd") || strings.Contains(code, "mmm")
	times := strings.ContainsAny(code, "hs")
	switch {
	case days && times:
		return instant
	case days || !times && strings.Contains(code, "m"):
		return date
	case times:
		return clock
	case strings.Contains(code, "%"):
		return percent
	}
	return plain
}

func bare(code string) string {
	var b strings.Builder
	for i := 0; i < len(code); i++ {
		switch c := code[i]; c {
		case '\\', '_', '*':
			i++
		case '"', '[':
			end := strings.IndexByte(code[i+1:], map[byte]byte{'"': '"', '[': ']'}[c])
			if end < 0 {
				return b.String()
			}
			if inside := code[i+1 : i+1+end]; c == '[' && strings.Trim(inside, "hms") == "" {
				b.WriteString(inside)
			}
			i += 1 + end
		default:
			b.WriteByte(c)
		}
	}
	return b.String()
}

// show gives a cell's number as its format means it, or as it stands.
func (f format) show(digits string, from1904 bool) string {
	if f == plain {
		return digits
	}
	v, err := strconv.ParseFloat(digits, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return digits
	}
	switch {
	case f == percent:
		return strconv.FormatFloat(hundredfold(digits, v), 'g', -1, 64)
	case v < 0 || v > 2958466: // Beyond the year 9999.
		return digits
	case f == clock && v < 366:
		return elapsed(v)
	}
	if from1904 {
		v += 1462
	}
	// A serial number near today's, with the 15 digits that some programs write, is right to 5 microseconds: 0.1 ms is what it can tell.
	day := math.Floor(v)
	seconds := math.Round((v-day)*86400e4) / 1e4
	at := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC).AddDate(0, 0, int(day)).Add(time.Duration(math.Round(seconds*1e6)) * time.Microsecond)
	if f == date && seconds == 0 {
		return at.Format("2006-01-02")
	}
	return at.Format("2006-01-02T15:04:05.000000")
}

// hundredfold moves the decimal point, so that no digit changes.
func hundredfold(digits string, v float64) float64 {
	mantissa, exponent, _ := strings.Cut(strings.ToLower(digits), "e")
	n, _ := strconv.Atoi(exponent) // Empty is 0.
	if x, err := strconv.ParseFloat(mantissa+"e"+strconv.Itoa(n+2), 64); err == nil {
		return x
	}
	return v * 100
}

// elapsed writes days as h:mm:ss with microseconds.
func elapsed(days float64) string {
	us := int64(math.Round(days * 86400e6))
	s := us / 1e6
	text := func(n int64, width int) string {
		t := strconv.FormatInt(n, 10)
		return strings.Repeat("0", max(0, width-len(t))) + t
	}
	return text(s/3600, 1) + ":" + text(s/60%60, 2) + ":" + text(s%60, 2) + "." + text(us%1e6, 6)
}
