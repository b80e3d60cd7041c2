package result

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"io"
	"math"
	"math/big"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow-go/v18/arrow/memory"
	"github.com/apache/arrow-go/v18/parquet/file"
	"github.com/apache/arrow-go/v18/parquet/pqarrow"
	"github.com/google/go-cmp/cmp"
	"github.com/parquet-go/parquet-go"
)

var when = time.Date(2026, 3, 4, 5, 6, 7, 250_000_000, time.FixedZone("", 3600))

func columns() []Column {
	return []Column{
		{Name: "vehicle"}, {Name: "n", Kind: Int}, {Name: "boost_kpa", Kind: Float32}, {Name: "share", Kind: Float64}, {Name: "locked", Kind: Bool},
		{Name: "started_at", Kind: Time}, {Name: "day", Kind: Date}, {Name: "total", Kind: Big}, {Name: "price", Kind: Decimal, Scale: 2},
		{Name: "list", Kind: Nested}, {Name: "raw", Kind: Bytes},
	}
}

func values() [][]any {
	return [][]any{
		{`a "quoted", one`, int64(-3), float32(0.1), 1.0 / 3, true, when, Day{time.Date(2026, 3, 4, 0, 0, 0, 0, time.UTC)},
			new(big.Int).Exp(big.NewInt(10), big.NewInt(20), nil), Fixed{big.NewInt(-5), 2}, []any{int64(1), nil, "x"}, []byte{1, 2}},
		{nil, nil, nil, nil, nil, nil, nil, nil, nil, nil, nil},
		{"=1+1\r\n", int64(math.MaxInt64), float32(math.NaN()), math.Inf(1), false, when, Day{}, big.NewInt(7), Fixed{big.NewInt(12345), 2}, map[string]any{"k": 1.5}, []byte{}},
	}
}

func write(t *testing.T, f Format, o Options, columns []Column, values [][]any) string {
	t.Helper()
	var b bytes.Buffer
	if err := Write(t.Context(), &b, Of(columns, values), f, o); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestJSON(t *testing.T) {
	got := write(t, JSON, Options{Units: US}, columns(), values())
	want := `[
{"vehicle":"a \"quoted\", one","n":-3,"boost_kpa":0.1,"share":0.3333333333333333,"locked":true,"started_at":"2026-03-04T04:06:07.25Z","day":"2026-03-04","total":100000000000000000000,"price":-0.05,"list":"[1,null,\"x\"]","raw":"AQI="},
{"vehicle":null,"n":null,"boost_kpa":null,"share":null,"locked":null,"started_at":null,"day":null,"total":null,"price":null,"list":null,"raw":null},
{"vehicle":"=1+1\r\n","n":9223372036854775807,"boost_kpa":null,"share":null,"locked":false,"started_at":"2026-03-04T04:06:07.25Z","day":"0001-01-01","total":7,"price":123.45,"list":"{\"k\":1.5}","raw":""}
]
`
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	var back []map[string]any
	if err := json.Unmarshal([]byte(got), &back); err != nil || len(back) != 3 {
		t.Errorf("read back %d objects: %v", len(back), err)
	}
	if got := write(t, JSON, Options{}, columns(), nil); got != "[]\n" {
		t.Errorf("no rows: got %q", got)
	}
	twice := write(t, JSON, Options{}, []Column{{Name: "n"}, {Name: "n"}}, [][]any{{"a", "b"}})
	if want := "[\n{\"n\":\"a\",\"n_2\":\"b\"}\n]\n"; twice != want {
		t.Errorf("a name twice: got %q, want %q", twice, want)
	}
	if got := string(appendJSON(nil, "\x00\xff<é>")); got != `"\u0000\ufffd<é>"` {
		t.Errorf("got %s", got)
	}
}

func TestNumbersReadBackTheSame(t *testing.T) {
	for _, x := range []float64{0, math.Copysign(0, -1), 1e-7, 1e-6, 123456789.125, 1e20, 1e21, 1e300, 5e-324, math.MaxFloat64, 0.1} {
		var back float64
		if err := json.Unmarshal(appendJSON(nil, x), &back); err != nil || back != x {
			t.Errorf("%v became %s", x, appendJSON(nil, x))
		}
		var narrow float32
		if err := json.Unmarshal(appendJSON(nil, float32(x)), &narrow); !math.IsInf(float64(float32(x)), 0) && (err != nil || narrow != float32(x)) {
			t.Errorf("%v became %s", float32(x), appendJSON(nil, float32(x)))
		}
	}
}

func TestCSV(t *testing.T) {
	got := write(t, CSV, Options{Units: US}, columns(), values())
	want := "vehicle,n,boost_kpa,share,locked,started_at,day,total,price,list,raw\n" +
		"\"a \"\"quoted\"\", one\",-3,0.1,0.3333333333333333,true,2026-03-04T04:06:07.25Z,2026-03-04,100000000000000000000,-0.05,\"[1,null,\"\"x\"\"]\",AQI=\n" +
		",,,,,,,,,,\n" +
		"\"'=1+1\r\n\",9223372036854775807,,,false,2026-03-04T04:06:07.25Z,0001-01-01,7,123.45,\"{\"\"k\"\":1.5}\",\n"
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	back, err := csv.NewReader(strings.NewReader(got)).ReadAll()
	if err != nil || len(back) != 4 || back[1][0] != `a "quoted", one` {
		t.Errorf("read back %q, %v", back, err)
	}
	if got := write(t, CSV, Options{}, []Column{{Name: "a"}}, [][]any{{nil}, {""}, {"x"}, {" y"}}); got != "a\n\"\"\n\"\"\nx\n\" y\"\n" {
		t.Errorf("one column: got %q", got)
	}
}

// What a spreadsheet would reckon or a terminal obey comes out inert; numbers, signs for no value and plain texts stay as they are.
func TestCSVIsInert(t *testing.T) {
	for text, want := range map[string]string{
		"=cmd|' /C calc'!A0": "'=cmd|' /C calc'!A0", "=1+1": "'=1+1", "+1+1": "'+1+1", "-2+3": "'-2+3", "@SUM(A1)": "'@SUM(A1)", "=HYPERLINK(0)": "'=HYPERLINK(0)",
		"\t=1+1": "'\t=1+1", "\n@x": "\"'\n@x\"", "\uff1d1+1": "'\uff1d1+1", " =1": "' =1", "=": "=", "--": "--", "-": "-", "-12.5": "-12.5", "+3e4": "+3e4", "-Inf": "-Inf", "a=b": "a=b", "x-y": "x-y",
		"\x1b[31mred\x1b]0;t\x07": "␛[31mred␛]0;t␇", "\u202egnp": "\ufffdgnp", "\x9b1m": "\ufffd1m", "two\nlines": "\"two\nlines\"", "\u0085": "\ufffd", "<b>": "<b>", "µé漢": "µé漢", "\xff": "\ufffd",
	} {
		got := write(t, CSV, Options{}, []Column{{Name: text}}, [][]any{{text}})
		if wanted := want + "\n" + want + "\n"; got != wanted {
			t.Errorf("%q: got %q, want %q", text, got, wanted)
		}
	}
	if got := write(t, CSV, Options{}, []Column{{Name: "n", Kind: Int}}, [][]any{{int64(-3)}}); got != "n\n-3\n" {
		t.Errorf("a negative number: %q", got)
	}
}

func TestParquet(t *testing.T) {
	got := write(t, Parquet, Options{}, columns(), values())
	f, err := parquet.OpenFile(strings.NewReader(got), int64(len(got)))
	if err != nil {
		t.Fatal(err)
	}
	types := map[string]string{}
	for _, c := range f.Schema().Fields() {
		types[c.Name()] = c.Type().String()
	}
	wantTypes := map[string]string{
		"vehicle": "STRING", "n": "INT(64,true)", "boost_kpa": "FLOAT", "share": "DOUBLE", "locked": "BOOLEAN", "day": "DATE", "list": "STRING", "raw": "BYTE_ARRAY",
		"started_at": "TIMESTAMP(isAdjustedToUTC=true,unit=MICROS)", "total": "DECIMAL(38,0)", "price": "DECIMAL(38,2)",
	}
	if d := cmp.Diff(wantTypes, types); d != "" {
		t.Error(d)
	}
	rows := readRows(t, f)
	if len(rows) != 3 {
		t.Fatalf("got %d rows", len(rows))
	}
	if r := rows[0]; r[0].String() != `a "quoted", one` || r[1].Int64() != -3 || r[2].Float() != 0.1 || r[3].Double() != 1.0/3 || !r[4].Boolean() || r[5].Int64() != when.UnixMicro() || r[9].String() != `[1,null,"x"]` {
		t.Errorf("got %v", r)
	}
	for i, v := range rows[1] {
		if !v.IsNull() {
			t.Errorf("column %d: got %v, want NULL", i, v)
		}
	}
	if r := rows[2]; !r[2].IsNull() || !r[3].IsNull() {
		t.Errorf("what is no number was kept: %v", r)
	}
	empty := write(t, Parquet, Options{}, columns(), nil)
	if f, err := parquet.OpenFile(strings.NewReader(empty), int64(len(empty))); err != nil || f.NumRows() != 0 {
		t.Errorf("no rows: %v", err)
	}
}

// What reads Arrow's metadata finds the stored units; a text has none.
func TestParquetCarriesUnits(t *testing.T) {
	head := []Column{{Name: "vehicle"}, {Name: "boost_kpa", Kind: Float32}, {Name: "lo95", Kind: Float64}, {Name: "n", Kind: Int}, {Name: "turbine_flow", Kind: Float32}, {Name: "x", Kind: Float64}}
	got := write(t, Parquet, Options{Declared: map[string]string{"lo95": "N·m", "n": "1"}}, head, nil)
	f, err := file.NewParquetReader(strings.NewReader(got))
	if err != nil {
		t.Fatal(err)
	}
	r, err := pqarrow.NewFileReader(f, pqarrow.ArrowReadProperties{}, memory.DefaultAllocator)
	if err != nil {
		t.Fatal(err)
	}
	form, err := r.Schema()
	if err != nil {
		t.Fatal(err)
	}
	units := map[string]string{}
	for _, c := range form.Fields() {
		if unit, ok := c.Metadata.GetValue("unit"); ok {
			units[c.Name] = unit
		}
	}
	if d := cmp.Diff(map[string]string{"boost_kpa": "kPa", "lo95": "N·m", "n": "1", "turbine_flow": "kg/s·√K/kPa"}, units); d != "" {
		t.Error(d)
	}
}

func readRows(t *testing.T, f *parquet.File) []parquet.Row {
	t.Helper()
	var all []parquet.Row
	for _, g := range f.RowGroups() {
		rows := g.Rows()
		buffer := make([]parquet.Row, 100)
		for {
			n, err := rows.ReadRows(buffer)
			for _, r := range buffer[:n] {
				all = append(all, r.Clone())
			}
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if err := rows.Close(); err != nil {
			t.Fatal(err)
		}
	}
	return all
}

func TestParquetHasBoundedRowGroups(t *testing.T) {
	many := make([][]any, 300_000)
	for i := range many {
		many[i] = []any{int64(i)}
	}
	got := write(t, Parquet, Options{}, []Column{{Name: "i", Kind: Int}}, many)
	f, err := parquet.OpenFile(strings.NewReader(got), int64(len(got)))
	if err != nil {
		t.Fatal(err)
	}
	if f.NumRows() != int64(len(many)) {
		t.Errorf("got %d rows", f.NumRows())
	}
	for _, g := range f.RowGroups() {
		if g.NumRows() > groupRows {
			t.Errorf("a row group has %d rows, more than %d", g.NumRows(), groupRows)
		}
	}
}

func TestFaultsReachTheCaller(t *testing.T) {
	broken := errors.New("broken")
	for _, f := range []Format{Table, CSV, JSON, Parquet, Markdown} {
		closed := 0
		if err := Write(t.Context(), io.Discard, New([]Column{{Name: "a"}}, &failing{err: broken, closed: &closed}), f, Options{}); !errors.Is(err, broken) {
			t.Errorf("%s: a source that fails gives %v", f, err)
		}
		if closed != 1 {
			t.Errorf("%s: the source was closed %d times", f, closed)
		}
		if err := Write(t.Context(), &full{room: 3}, Of(columns(), values()), f, Options{}); !errors.Is(err, errFull) {
			t.Errorf("%s: a writer that fails gives %v", f, err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		if err := Write(ctx, io.Discard, Of(columns(), values()), f, Options{}); !errors.Is(err, context.Canceled) {
			t.Errorf("%s: a cancelled context gives %v", f, err)
		}
	}
}

type failing struct {
	err    error
	closed *int
	given  bool
}

func (f *failing) Next(dst []any) error {
	if f.given {
		return f.err
	}
	f.given, dst[0] = true, "x"
	return nil
}

func (f *failing) Close() error { *f.closed++; return nil }

var errFull = errors.New("no room")

type full struct{ room int }

func (f *full) Write(p []byte) (int, error) {
	if f.room -= len(p); f.room < 0 {
		return 0, errFull
	}
	return len(p), nil
}
