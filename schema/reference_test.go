package schema

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

// Every factor against GNU units, an independent library: testdata/reference/units.csv, made by units.sh beside it.
func TestUnitsAgreeWithGNUUnits(t *testing.T) {
	f, err := os.Open("../testdata/reference/units.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 50 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for _, r := range rows[1:] {
		from, ok1 := ParseUnit(r[0])
		to, ok2 := ParseUnit(r[1])
		want, err := strconv.ParseFloat(r[2], 64)
		if !ok1 || !ok2 || err != nil {
			t.Errorf("%v: not understood (%v)", r, err)
			continue
		}
		got, err := from.Convert(1, to)
		if err != nil || math.Abs(got/want-1) > 2e-13 { // The table has 15 digits; conventional mercury is given to 13.
			t.Errorf("1 %s = %.16g %s, GNU units has %s (%v)", r[0], got, r[1], r[2], err)
		}
	}
}
