package main

import (
	"archive/zip"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// writeZip packs texts, name then text.
func writeZip(t *testing.T, to string, texts ...string) {
	t.Helper()
	f, err := os.Create(to)
	if err != nil {
		t.Fatal(err)
	}
	z := zip.NewWriter(f)
	for i := 0; i < len(texts); i += 2 {
		w, err := z.Create(texts[i])
		if err == nil {
			_, err = w.Write([]byte(texts[i+1]))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
}

const (
	busLog = "(1594172461.000000) can0 200#2710\n(1594172461.100000) can0 200#4E20\n(1594172461.200000) can0 200#7530\n"
	gauge  = "VERSION \"\"\nBO_ 512 Exhaust: 2 Box\n SG_ DrivePressure : 7|16@0+ (0.01,0) [0|655] \"kPa abs\" Box\n"
	higher = "VERSION \"\"\nBO_ 512 Exhaust: 2 Box\n SG_ DrivePressure : 7|16@0+ (0.01,100) [0|655] \"kPa abs\" Box\n"
)

// A CAN database packed beside a log is what the log is read with: the one in its own folder of the archive, else in the nearest
// above, whether the archive is given bare or named by a run sheet; and again when the run is made anew from the lake's archive.
func TestDatabaseInAnArchive(t *testing.T) {
	for name, c := range map[string]struct {
		texts []string
		sheet string
		want  float64
	}{
		"beside":   {[]string{"bus.log", busLog, "box.dbc", gauge}, "", 300},
		"above":    {[]string{"day/bus.log", busLog, "box.DBC", gauge, "other/box.dbc", higher}, "", 300},
		"nearest":  {[]string{"day/bus.log", busLog, "day/box.dbc", higher, "box.dbc", gauge}, "", 400},
		"by sheet": {[]string{"bus.log", busLog, "box.dbc", gauge, "README.txt", "notes"}, "files,vehicle\nlogs.zip,v\n", 300},
		"member":   {[]string{"bus.log", busLog, "box.dbc", gauge}, "files,vehicle\nlogs.zip/bus.log,v\n", 300},
	} {
		t.Run(name, func(t *testing.T) {
			dir, lake := t.TempDir(), filepath.Join(t.TempDir(), "lake")
			writeZip(t, filepath.Join(dir, "logs.zip"), c.texts...)
			if c.sheet != "" {
				if err := os.WriteFile(filepath.Join(dir, "runs.csv"), []byte(c.sheet), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			dynolake(t, "init", "--lake", lake, "--quiet")
			dynolake(t, "ingest", "--lake", lake, "--quiet", dir)
			highest := func() float64 {
				rows := askJSON(t, lake, "--sql", "SELECT max(turbine_in_kpa) AS p, count(DISTINCT run_id) AS runs FROM samples")
				if rows[0].num("runs") != 1 {
					t.Errorf("runs: %v", rows)
				}
				return rows[0].num("p")
			}
			if got := highest(); math.Abs(got-c.want) > 1e-3 {
				t.Errorf("drive pressure up to %v, want %v", got, c.want)
			}
			dynolake(t, "reprocess", "--lake", lake, "--quiet", "--force")
			if got := highest(); math.Abs(got-c.want) > 1e-3 {
				t.Errorf("made again: drive pressure up to %v, want %v", got, c.want)
			}
			dynolake(t, "verify", "--lake", lake, "--quiet")
		})
	}
}
