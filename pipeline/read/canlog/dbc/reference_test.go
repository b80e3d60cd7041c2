package dbc_test

import (
	"encoding/csv"
	"encoding/hex"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"dynolake/pipeline/read/canlog/dbc"
	"dynolake/schema/samples"
)

func load(t *testing.T, path string) dbc.Database {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	db, err := dbc.Parse(filepath.Base(path), b)
	if err != nil {
		t.Fatal(err)
	}
	return db
}

// The databases' origin: cantools/cantools tests (MIT) and yabskbd/remora_ctrl_proto (MIT).
func TestSampleCounts(t *testing.T) {
	dir := samples.Folder(t)
	for name, want := range map[string][2]int{
		"dbc_mux_enum_example": {5, 19}, "dbc_big_endian_enum": {1, 3}, "dbc_float_signals": {2, 3}, "dbc_signed_both_endian": {11, 18},
		"dbc_mux_extended": {4, 19}, "dbc_cp1252_comments": {0, 0}, "dbc_j1939_attributes": {2, 2}, "dbc_can_fd_comments": {5, 8}, "hd_truck_j1939": {16, 21},
	} {
		db := load(t, filepath.Join(dir, name+".dbc"))
		signals := 0
		for _, m := range db.Messages {
			signals += len(m.Signals)
		}
		if len(db.Messages) != want[0] || signals != want[1] {
			t.Errorf("%s: %d messages, %d signals, want %v", name, len(db.Messages), signals, want)
		}
	}
	db := load(t, filepath.Join(dir, "dbc_j1939_attributes.dbc"))
	if m := db.Messages[0]; !m.J1939 || !m.Extended || m.ID != 0x15340201 || m.Signals[0].SPN != 500 {
		t.Errorf("J1939 attributes: %+v", m)
	}
	db = load(t, filepath.Join(dir, "hd_truck_j1939.dbc"))
	for id, name := range map[uint32]string{0x0CF00400: "EEC1", 0x18F00421: "EEC1", 0x18FEE30F: "EC1"} {
		if m, ok := db.Find(id, true); !ok || m.Name != name {
			t.Errorf("id %X: %v, want %s by its parameter group", id, m, name)
		}
	}
	if _, ok := db.Find(0x100, true); ok {
		t.Error("an 11-bit id was found as a 29-bit one")
	}
	if m, _ := db.Find(0x18FD7C00, true); m == nil || m.Signal("DslPrtcltFltrActvRgnrtionStatus").Text(1) != "active" {
		t.Errorf("value table: %+v", m)
	}
}

// testdata/reference/can_signals.csv is what canmatrix reads in the samples' messages; can_signals.py beside it makes it.
func TestAgainstCanmatrix(t *testing.T) {
	dir := samples.Folder(t)
	f, err := os.Open("../../../../testdata/reference/can_signals.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 800 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	databases := map[string]dbc.Database{}
	for _, row := range rows[1:] {
		db, ok := databases[row[0]]
		if !ok {
			db = load(t, filepath.Join(dir, row[0]))
			databases[row[0]] = db
		}
		id, err1 := strconv.ParseUint(row[1], 16, 32)
		data, err2 := hex.DecodeString(row[3])
		want, err3 := strconv.ParseFloat(row[5], 64)
		if err1 != nil || err2 != nil || err3 != nil {
			t.Fatalf("row %v", row)
		}
		m, ok := db.Find(uint32(id), row[2] == "1")
		if !ok || m.Signal(row[4]) == nil {
			t.Errorf("%v: not found", row)
			continue
		}
		s := m.Signal(row[4])
		if !m.There(s, data) {
			t.Errorf("%v: the signal is not there by our reading", row)
		}
		raw, ok := s.Raw(data)
		got := s.Of(raw)
		if s.Float && (math.IsNaN(want) || math.IsInf(want, 0)) {
			want = math.NaN()
		}
		if !ok || math.Abs(got-want) > 1e-9*math.Max(1, math.Abs(want)) && !(math.IsNaN(got) && math.IsNaN(want)) {
			t.Errorf("%v: got %v", row, got)
		}
	}
}
