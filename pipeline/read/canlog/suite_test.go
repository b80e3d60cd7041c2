package canlog_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"dynolake/pipeline/read"
	"dynolake/pipeline/read/canlog"
	"dynolake/pipeline/read/canlog/dbc"
	"dynolake/pipeline/read/readtest"
)

func contents(t testing.TB, path string) []byte {
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func shop(t testing.TB) canlog.Reader {
	db, err := dbc.Parse("shop.dbc", contents(t, "testdata/shop.dbc"))
	if err != nil {
		t.Fatal(err)
	}
	return canlog.Reader{Databases: []dbc.Database{db}}
}

func TestSuite(t *testing.T) {
	for _, name := range []string{"log_form", "date_form", "obd_units"} {
		t.Run(name, func(t *testing.T) {
			readtest.Suite(t, canlog.Reader{}, contents(t, filepath.Join("testdata", name, "input.log")))
		})
	}
}

func TestGolden(t *testing.T) { readtest.Golden(t, canlog.Reader{}, "testdata") }

func TestGoldenWithDatabase(t *testing.T) { readtest.Golden(t, shop(t), "testdata/database") }

// A candump log is proven: it goes to this reader and not to delimited text.
func TestDetected(t *testing.T) {
	for _, name := range []string{"log_form", "date_form", "seconds_form", "no_time", "cut_lines", "obd_units"} {
		r, err := read.Detect(context.Background(), readtest.Bytes("log.csv", contents(t, filepath.Join("testdata", name, "input.log"))))
		if err != nil || r.Form() != canlog.Form {
			t.Errorf("%s: %v, %v", name, r, err)
		}
	}
}

func FuzzRead(f *testing.F) {
	for _, name := range []string{"log_form", "date_form", "seconds_form", "torque", "obd_units", "restart", "set_back", "database/gauge"} {
		f.Add(contents(f, filepath.Join("testdata", name, "input.log")))
	}
	r := shop(f)
	if err := readtest.Check(context.Background(), r, contents(f, filepath.Join("testdata", "obd_units", "input.log"))); err != nil { // The tables of units are read once a process.
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		readtest.Sound(t, r, data)
	})
}
