package delimited_test

import (
	"os"
	"testing"

	"dynolake/pipeline/read/delimited"
	"dynolake/pipeline/read/readtest"
)

func sampleOf(t testing.TB, path string) []byte {
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestSuite(t *testing.T) {
	for _, name := range []string{"wide_units_row", "long_polled", "paired_clocks"} {
		t.Run(name, func(t *testing.T) { readtest.Suite(t, delimited.Reader{}, sampleOf(t, "testdata/"+name+"/input.csv")) })
	}
}

func TestGolden(t *testing.T) { readtest.Golden(t, delimited.Reader{}, "testdata") }

func FuzzRead(f *testing.F) {
	for _, name := range []string{"wide_units_row", "long_polled", "paired_clocks", "preamble_date", "clock_midnight", "restart", "header_changes"} {
		f.Add(sampleOf(f, "testdata/"+name+"/input.csv"))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		readtest.Sound(t, delimited.Reader{}, data)
	})
}
