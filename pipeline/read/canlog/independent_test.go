package canlog_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"dynolake/pipeline/read"
	"dynolake/pipeline/read/canlog"
	"dynolake/pipeline/read/canlog/dbc"
	"dynolake/pipeline/read/canlog/frame"
	"dynolake/pipeline/read/readtest"
	"dynolake/schema"
	"dynolake/schema/samples"
)

// theirs is what python-can and canmatrix read, row by row. Where they are not installed the test is left out, save in CI.
func theirs(t *testing.T, files ...string) [][]string {
	t.Helper()
	const python = "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import can, canmatrix").Run(); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("python3-can and python3-canmatrix are not installed: %v", err)
		}
		t.Skipf("python3-can and python3-canmatrix are not installed: %v", err)
	}
	read := exec.Command(python, append([]string{"../../../testdata/reference/can_log.py"}, files...)...)
	var errs bytes.Buffer
	read.Stderr = &errs
	out, err := read.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, errs.String())
	}
	rows, err := csv.NewReader(bytes.NewReader(out)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// written puts a text into a file.
func written(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// randomFrames is a log with ids and data of every length, remote and FD frames among them.
func randomFrames(n int) string {
	r := rand.New(rand.NewPCG(11898, 1))
	var b strings.Builder
	at := 1594172461.0
	for range n {
		at += 0.0005 + 0.01*r.Float64()
		id := fmt.Sprintf("%03X", r.IntN(0x800))
		if r.IntN(2) == 0 {
			id = fmt.Sprintf("%08X", r.IntN(0x20000000))
		}
		data := make([]byte, r.IntN(9))
		for i := range data {
			data[i] = byte(r.IntN(256))
		}
		body := fmt.Sprintf("#%X", data)
		switch r.IntN(12) {
		case 0:
			body = "#R"
		case 1:
			body = fmt.Sprintf("##%d%X", r.IntN(4), append(data, make([]byte, []int{8, 12, 16, 20}[r.IntN(4)]-len(data))...))
		}
		fmt.Fprintf(&b, "(%.6f) %s %s%s\n", at, []string{"can0", "can1", "vcan0"}[r.IntN(3)], id, body)
	}
	return b.String()
}

// Every frame of a log is read as python-can reads it: time, bus, id, kind and bytes.
func TestFramesAgainstPythonCan(t *testing.T) {
	logs := map[string]string{"random": written(t, "random.log", randomFrames(5000))}
	t.Run("random", func(t *testing.T) { sameFrames(t, logs["random"], 5000) })
	for name, n := range map[string]int{"hd_truck_idle_j1939": 9950, "hd_truck_drive_two_buses": 15627, "thermocouples_4ch": 304} {
		t.Run(name, func(t *testing.T) { sameFrames(t, filepath.Join(samples.Folder(t), name+".candump.log"), n) })
	}
}

func sameFrames(t *testing.T, path string, n int) {
	rows := theirs(t, path)
	if len(rows) != n {
		t.Fatalf("python-can reads %d frames, want %d", len(rows), n)
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	lines, faults := bufio.NewScanner(f), 0
	var x frame.Frame
	for i := 0; lines.Scan() && faults < 5; i++ {
		if err := frame.Parse(lines.Bytes(), &x); err != nil {
			t.Fatalf("line %d: %v", i+1, err)
		}
		ours := fmt.Sprintf("frame %.6f %s %X %d %d %d %X", x.Stamp.Seconds, x.Bus, x.ID, bit(x.Extended), bit(x.Remote), bit(x.FD), x.Data())
		if want := strings.Join(rows[i], " "); strings.TrimSpace(ours) != strings.TrimSpace(want) {
			t.Errorf("line %d %q: ours %q, theirs %q", i+1, lines.Text(), ours, want)
			faults++
		}
	}
}

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}

// cellDatabase has signals of both byte orders, odd widths and places, signs and a selector.
const cellDatabase = `VERSION ""

NS_ :

BS_:

BU_: Cell

BO_ 256 Gas: 8 Cell
 SG_ Drive_pressure : 0|16@1+ (0.02,0) [0|0] "kPa" Cell
 SG_ Outlet_pressure : 23|12@0+ (0.1,-50) [0|0] "kPa" Cell
 SG_ Lambda : 40|11@1- (0.003,1.5) [0|0] "" Cell
 SG_ Valve : 52|3@1+ (1,0) [0|0] "" Cell

BO_ 2566856834 Rollers: 8 Cell
 SG_ Speed : 7|16@0- (0.01,0) [0|0] "km/h" Cell
 SG_ Force : 16|24@1- (0.5,100) [0|0] "N" Cell
 SG_ Power : 47|17@0+ (0.005,-20) [0|0] "kW" Cell

BO_ 768 Temperatures: 8 Cell
 SG_ Page M : 0|8@1+ (1,0) [0|0] "" Cell
 SG_ Inlet m0 : 8|16@1- (0.01,0) [0|0] "C" Cell
 SG_ Outlet m0 : 31|16@0- (0.01,0) [0|0] "C" Cell
 SG_ Filter m1 : 8|16@1+ (0.05,-40) [0|0] "C" Cell
 SG_ Room m2 : 13|6@1+ (1,-10) [0|0] "C" Cell
`

// randomCell is a log of that database's messages with random bytes.
func randomCell(n int) string {
	r := rand.New(rand.NewPCG(11898, 2))
	var b strings.Builder
	at := 1594172461.0
	for range n {
		at += 0.0005 + 0.01*r.Float64()
		data := make([]byte, 8)
		for i := range data {
			data[i] = byte(r.IntN(256))
		}
		id := []string{"100", "18FF2082", "300"}[r.IntN(3)]
		if id == "300" {
			data[0] = byte(r.IntN(3))
		}
		fmt.Fprintf(&b, "(%.6f) can0 %s#%X\n", at, id, data)
	}
	return b.String()
}

// Every signal of a log is decoded as canmatrix decodes it; where J1939 reserves the raw value for "not available" or an error,
// ours is missing.
func TestSignalsAgainstCanmatrix(t *testing.T) {
	t.Run("random", func(t *testing.T) {
		sameSignals(t, written(t, "cell.log", randomCell(3000)), written(t, "cell.dbc", cellDatabase), 9000)
	})
	for _, c := range []struct {
		log, database string
		least         int
	}{{"hd_truck_idle_j1939", "hd_truck_j1939", 4000}, {"hd_truck_drive_two_buses", "hd_truck_j1939", 4000}} {
		t.Run(c.log, func(t *testing.T) {
			dir := samples.Folder(t)
			sameSignals(t, filepath.Join(dir, c.log+".candump.log"), filepath.Join(dir, c.database+".dbc"), c.least)
		})
	}
}

func sameSignals(t *testing.T, path, databasePath string, least int) {
	rows := theirs(t, path, databasePath)
	if len(rows) < least {
		t.Fatalf("canmatrix decodes %d signals, want %d and more", len(rows), least)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	db := database(t, databasePath)
	logs, err := read.Collect(context.Background(), canlog.Reader{Databases: []dbc.Database{db}}, readtest.Bytes(filepath.Base(path), text))
	if err != nil || len(logs) != 1 {
		t.Fatalf("%d logs, %v", len(logs), err)
	}
	ours := values(logs[0])
	faults, missing := 0, 0
	for _, row := range rows {
		key := row[1] + " " + row[4]
		got, ok := ours[key]
		want, err := strconv.ParseFloat(row[6], 64)
		if err != nil {
			t.Fatal(err)
		}
		if ok && math.IsNaN(got) && reserved(t, db, row) {
			missing++
			continue
		}
		if !ok || !(math.Abs(got-want) <= 1e-9*math.Max(1, math.Abs(want))) {
			if faults++; faults < 6 {
				t.Errorf("%v: ours %v (%v)", row, got, ok)
			}
		}
	}
	t.Logf("%d signals the same, %d of them reserved values", len(rows), missing)
	if missing == len(rows) {
		t.Error("no value was compared")
	}
}

// values lists a log's numbers and missing ones by time and name.
func values(l schema.Log) map[string]float64 {
	all := map[string]float64{}
	for _, s := range l.Series {
		for c, ch := range s.Channels {
			for i, at := range s.T {
				all[fmt.Sprintf("%.6f %s", at, ch.Name)] = s.Values[c][i]
			}
		}
	}
	return all
}

// reserved reports whether a raw value is one that SAE J1939-71 takes from what a signal of its width can read, or that the
// database gives a text.
func reserved(t *testing.T, db dbc.Database, row []string) bool {
	t.Helper()
	id, err := strconv.ParseUint(row[2], 16, 32)
	if err != nil {
		t.Fatal(err)
	}
	raw, err := strconv.ParseInt(row[5], 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	m, ok := db.Find(uint32(id), row[3] == "1")
	if !ok {
		return false
	}
	s := m.Signal(row[4])
	if s.Text(uint64(raw)) != "" {
		return true
	}
	first := map[int]int64{2: 2, 4: 0xE, 8: 0xFB, 16: 0xFB00, 32: 0xFB000000}[s.Bits]
	return m.J1939 && first > 0 && raw >= first
}
