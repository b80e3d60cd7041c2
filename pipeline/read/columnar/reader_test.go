package columnar_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/ipc"
	"github.com/apache/arrow-go/v18/arrow/memory"
	"github.com/apache/arrow-go/v18/parquet"
	"github.com/apache/arrow-go/v18/parquet/compress"
	"github.com/apache/arrow-go/v18/parquet/pqarrow"

	"dynolake/pipeline/read"
	"dynolake/pipeline/read/columnar"
	"dynolake/pipeline/read/readtest"
	"dynolake/schema"
)

// records are the rows of a test, as JSON.
func record(t testing.TB, s *arrow.Schema, rows string) arrow.RecordBatch {
	t.Helper()
	r, _, err := array.RecordFromJSON(memory.DefaultAllocator, s, strings.NewReader(rows))
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// files writes a record in every form that is read.
func files(t testing.TB, r arrow.RecordBatch) map[string][]byte {
	t.Helper()
	var pq, file, stream bytes.Buffer
	w, errPq := pqarrow.NewFileWriter(r.Schema(), &pq, parquet.NewWriterProperties(parquet.WithCompression(compress.Codecs.Zstd)), pqarrow.NewArrowWriterProperties(pqarrow.WithStoreSchema()))
	f, err := ipc.NewFileWriter(&file, ipc.WithSchema(r.Schema()))
	if err != nil {
		t.Fatal(err)
	}
	s := ipc.NewWriter(&stream, ipc.WithSchema(r.Schema()))
	if err := errors.Join(f.Write(r), f.Close(), s.Write(r), s.Close()); err != nil {
		t.Fatal(err)
	}
	list := map[string][]byte{"file": file.Bytes(), "stream": stream.Bytes()}
	for _, f := range r.Schema().Fields() {
		if f.Type.ID() == arrow.DURATION {
			return list // Parquet has no such type.
		}
	}
	if err := errors.Join(errPq, w.Write(r), w.Close()); err != nil {
		t.Fatal(err)
	}
	list["parquet"] = pq.Bytes()
	return list
}

func field(name string, kind arrow.DataType, unit string) arrow.Field {
	f := arrow.Field{Name: name, Type: kind, Nullable: true}
	if unit != "" {
		f.Metadata = arrow.NewMetadata([]string{"unit"}, []string{unit})
	}
	return f
}

func collect(t testing.TB, data []byte) []schema.Log {
	t.Helper()
	logs, err := read.Collect(context.Background(), columnar.Reader{}, readtest.Bytes("log.csv", data))
	if err != nil {
		t.Fatal(err)
	}
	return logs
}

var plainForm = arrow.NewSchema([]arrow.Field{field("time", arrow.PrimitiveTypes.Float64, "s"), field("Engine Speed [rpm]", arrow.PrimitiveTypes.Float32, ""),
	field("boost", arrow.PrimitiveTypes.Int16, "mbar"), field("state", arrow.BinaryTypes.String, ""), field("on", arrow.FixedWidthTypes.Boolean, "")}, nil)

const plainRows = `[{"time":0.5,"Engine Speed [rpm]":800.5,"boost":-3,"state":"IDLE","on":true},{"time":0.6,"boost":7,"state":"12.5","on":false},{"time":0.7,"Engine Speed [rpm]":900,"state":null}]`

func TestEveryLayout(t *testing.T) {
	for name, data := range files(t, record(t, plainForm, plainRows)) {
		t.Run(name, func(t *testing.T) {
			logs := collect(t, data)
			if len(logs) != 1 || len(logs[0].Series) != 1 {
				t.Fatalf("%+v", logs)
			}
			s := logs[0].Series[0]
			if fmt.Sprint(s.Channels) != "[{Engine Speed rpm } {boost mbar } {state  } {on  }]" || s.Clock.Name != "time" || s.Clock.Unit != "s" || !s.Clock.Start.IsZero() {
				t.Errorf("channels %v, clock %+v", s.Channels, s.Clock)
			}
			if fmt.Sprint(s.T, s.Values) != "[0.5 0.6 0.7] [[800.5 NaN 900] [-3 7 NaN] [NaN 12.5 NaN] [1 0 NaN]]" || fmt.Sprint(s.Texts) != "[{0 2 IDLE}]" {
				t.Errorf("rows %v %v %v", s.T, s.Values, s.Texts)
			}
		})
	}
}

// Every way in which a time is written gives the same seconds.
func TestClocks(t *testing.T) {
	stamp := func(u arrow.TimeUnit, zone string) arrow.DataType {
		return &arrow.TimestampType{Unit: u, TimeZone: zone}
	}
	pair := arrow.StructOf(field("sec", arrow.PrimitiveTypes.Int32, ""), field("nanosec", arrow.PrimitiveTypes.Uint32, ""))
	begin := time.Date(2024, 5, 6, 7, 8, 9, 250e6, time.UTC)
	const ns = 1714979289250000000
	for name, c := range map[string]struct {
		field arrow.Field
		rows  [3]string
		t     [3]float64
		start time.Time
		zoned bool
	}{
		"seconds":              {field("Time", arrow.PrimitiveTypes.Float64, ""), [3]string{"1.5", "1.75", "2"}, [3]float64{1.5, 1.75, 2}, time.Time{}, false},
		"single seconds":       {field("elapsed_s", arrow.PrimitiveTypes.Float32, ""), [3]string{"1.5", "1.75", "2"}, [3]float64{1.5, 1.75, 2}, time.Time{}, false},
		"milliseconds by unit": {field("t", arrow.PrimitiveTypes.Int32, "ms"), [3]string{"1500", "1750", "2000"}, [3]float64{1.5, 1.75, 2}, time.Time{}, false},
		"ns by name":           {field("t_ns", arrow.PrimitiveTypes.Int64, ""), [3]string{"1500000000", "1750000000", "2000000000"}, [3]float64{1.5, 1.75, 2}, time.Time{}, false},
		"timestamp ns":         {field("when", stamp(arrow.Nanosecond, "UTC"), ""), [3]string{`"2024-05-06 07:08:09.25Z"`, `"2024-05-06 07:08:09.250000001Z"`, `"2024-05-06 07:08:10Z"`}, [3]float64{0, 1e-9, 0.75}, begin, true},
		"timestamp us local":   {field("when", stamp(arrow.Microsecond, ""), ""), [3]string{`"2024-05-06 07:08:09.25"`, `"2024-05-06 07:08:09.5"`, `"2024-05-06 07:08:10"`}, [3]float64{0, 0.25, 0.75}, begin, false},
		"timestamp ms zone":    {field("when", stamp(arrow.Millisecond, "Europe/Vienna"), ""), [3]string{`"2024-05-06 07:08:09.25Z"`, `"2024-05-06 07:08:09.5Z"`, `"2024-05-06 07:08:10Z"`}, [3]float64{0, 0.25, 0.75}, begin, true},
		"timestamp s":          {field("when", stamp(arrow.Second, ""), ""), [3]string{`"2024-05-06 07:08:09"`, `"2024-05-06 07:08:10"`, `"2024-05-06 07:08:12"`}, [3]float64{0, 1, 3}, begin.Truncate(time.Second), false},
		"epoch ns":             {field("timestamp", arrow.PrimitiveTypes.Int64, ""), [3]string{fmt.Sprint(ns), fmt.Sprint(ns + 1), fmt.Sprint(ns + 750000000)}, [3]float64{0, 1e-9, 0.75}, begin, true},
		"epoch ms":             {field("time", arrow.PrimitiveTypes.Uint64, ""), [3]string{"1714979289250", "1714979289500", "1714979290000"}, [3]float64{0, 0.25, 0.75}, begin, true},
		"sec and nanosec":      {field("stamp", pair, ""), [3]string{`{"sec":10,"nanosec":500000000}`, `{"sec":10,"nanosec":750000000}`, `{"sec":11,"nanosec":0}`}, [3]float64{10.5, 10.75, 11}, time.Time{}, false},
		"time within":          {field("time", arrow.StructOf(field("ns", arrow.PrimitiveTypes.Int64, "")), ""), [3]string{`{"ns":1500000000}`, `{"ns":1750000000}`, `{"ns":2000000000}`}, [3]float64{1.5, 1.75, 2}, time.Time{}, false},
		"duration":             {field("elapsed", &arrow.DurationType{Unit: arrow.Millisecond}, ""), [3]string{`"1500ms"`, `"1750ms"`, `"2000ms"`}, [3]float64{1.5, 1.75, 2}, time.Time{}, false},
	} {
		t.Run(name, func(t *testing.T) {
			form := arrow.NewSchema([]arrow.Field{field("rpm", arrow.PrimitiveTypes.Float64, ""), c.field}, nil)
			rows := "["
			for i, v := range c.rows {
				rows += fmt.Sprintf(`{"rpm":%d,%q:%s},`, 800+i, c.field.Name, v)
			}
			r := record(t, form, strings.TrimSuffix(rows, ",")+"]")
			for layout, data := range files(t, r) {
				if name == "timestamp s" && layout == "parquet" {
					continue // Parquet has no seconds: its writer makes them milliseconds.
				}
				s := collect(t, data)[0].Series[0]
				for i, want := range c.t {
					if math.Abs(s.T[i]-want) > 1e-12 {
						t.Errorf("%s: t %v, want %v", layout, s.T, c.t)
						break
					}
				}
				if !s.Clock.Start.Equal(c.start) || s.Clock.Zoned != c.zoned || len(s.Channels) != 1 || fmt.Sprint(s.Values[0]) != "[800 801 802]" {
					t.Errorf("%s: clock %+v, channels %v %v", layout, s.Clock, s.Channels, s.Values)
				}
			}
		})
	}
}

func TestListsOfTimeAreUnfolded(t *testing.T) {
	list := arrow.ListOf(arrow.PrimitiveTypes.Float64)
	form := arrow.NewSchema([]arrow.Field{field("name", arrow.BinaryTypes.String, ""), field("t_s", list, ""), field("rpm", list, "1/min"), field("odd", list, "")}, nil)
	r := record(t, form, `[{"name":"a","t_s":[0,1,2],"rpm":[800,null,900],"odd":[1]},{"t_s":[3,4],"rpm":[1000,1100],"odd":[5,6]}]`)
	for layout, data := range files(t, r) {
		l := collect(t, data)[0]
		s := l.Series[0]
		if fmt.Sprint(s.T, s.Values, s.Channels) != "[0 1 2 3 4] [[800 NaN 900 1000 1100] [NaN NaN NaN 5 6]] [{rpm 1/min } {odd  }]" {
			t.Errorf("%s: %v %v %v", layout, s.T, s.Values, s.Channels)
		}
		if len(l.Findings) != 1 || l.Findings[0].Code != "columns_not_read" || !strings.Contains(l.Findings[0].Text, "name") {
			t.Errorf("%s: findings %+v", layout, l.Findings)
		}
	}
}

func TestNoClock(t *testing.T) {
	r := record(t, arrow.NewSchema([]arrow.Field{field("rpm", arrow.PrimitiveTypes.Float64, ""), field("torque", arrow.PrimitiveTypes.Float64, "")}, nil), `[{"rpm":800,"torque":5},{"rpm":900,"torque":6}]`)
	for layout, data := range files(t, r) {
		_, err := read.Collect(context.Background(), columnar.Reader{}, readtest.Bytes("log.csv", data))
		if err == nil || !strings.Contains(err.Error(), "log.csv: a time channel is missing among the columns") || !strings.Contains(err.Error(), "torque") {
			t.Errorf("%s: %v", layout, err)
		}
	}
}

// The suite's sample is small, for it is read again for every byte.
func TestSuite(t *testing.T) {
	form := arrow.NewSchema([]arrow.Field{field("time", arrow.PrimitiveTypes.Float64, "s"), field("mode", arrow.BinaryTypes.String, "")}, nil)
	for name, data := range files(t, record(t, form, `[{"time":0.5,"mode":"IDLE"},{"time":0.75,"mode":"7"}]`)) {
		t.Run(name, func(t *testing.T) { readtest.Suite(t, columnar.Reader{}, data) })
	}
}

// A page's header that is damaged is named by its column and its offset, and so is what lies beyond the file.
func TestDamagedPagesAreNamed(t *testing.T) {
	data := files(t, record(t, plainForm, plainRows))["parquet"]
	for at, want := range map[int]string{4: `row group 0: column "time", page at offset 4: its header is damaged`, 8: `column "time", page at offset 4`} {
		bad := bytes.Clone(data)
		copy(bad[at:], "\xff\xff\xff\xff\xff\xff")
		_, err := read.Collect(context.Background(), columnar.Reader{}, readtest.Bytes("log.csv", bad))
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
}

// A stream that is cut, or claims to go on for 2 GiB, gives the rows before.
func TestCutStreamKeepsItsRows(t *testing.T) {
	r := record(t, plainForm, plainRows)
	var b bytes.Buffer
	w := ipc.NewWriter(&b, ipc.WithSchema(r.Schema()))
	if err := errors.Join(w.Write(r), w.Write(r)); err != nil {
		t.Fatal(err)
	}
	whole := b.Len()
	for name, rest := range map[string]string{"cut": "\xff\xff\xff\xff\x80", "long": "\xff\xff\xff\xff\xf0\xff\xff\x7f????????"} {
		l := collect(t, append(bytes.Clone(b.Bytes()[:whole]), rest...))[0]
		if len(l.Series[0].T) != 6 || len(l.Findings) == 0 || l.Findings[len(l.Findings)-1].Code == "" {
			t.Errorf("%s: %d rows, findings %v", name, len(l.Series[0].T), l.Findings)
		}
		if s := readtest.Dump([]schema.Log{l}); !strings.Contains(s, "file_cut") {
			t.Errorf("%s: %s", name, s)
		}
	}
}

func FuzzRead(f *testing.F) {
	for _, data := range files(f, record(f, plainForm, plainRows)) {
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		readtest.Sound(t, columnar.Reader{}, data)
	})
}
