package result

import (
	"bytes"
	"strings"
	"testing"
)

// parquetBytes is a Parquet file in memory that tells whether it was closed.
type parquetBytes struct {
	*bytes.Reader
	closed bool
}

func (f *parquetBytes) Close() error { f.closed = true; return nil }

// What is read back prints as what was written, in every form.
func TestReadParquet(t *testing.T) {
	list, rows := columns(), values()
	list = append(list[:9:9], list[10]) // Without the one that is nested.
	for i, r := range rows {
		rows[i] = append(r[:9:9], r[10])
	}
	many := append([][]any(nil), rows...)
	for len(many) < 3*batchRows {
		many = append(many, rows...)
	}
	for _, given := range [][][]any{nil, rows, many} {
		f := &parquetBytes{Reader: bytes.NewReader([]byte(write(t, Parquet, Options{}, list, given)))}
		got, err := ReadParquet(t.Context(), f, list)
		if err != nil {
			t.Fatal(err)
		}
		back, err := got.All()
		if err != nil || !f.closed {
			t.Fatalf("%v, closed %v", err, f.closed)
		}
		for _, form := range []Format{CSV, JSON, Markdown, Parquet} {
			if write(t, form, Options{}, list, given) != write(t, form, Options{}, list, back) {
				t.Errorf("%d rows as %s: they print otherwise, the first being %v", len(given), form, back[:min(len(back), 3)])
			}
		}
	}
}

func TestReadParquetOfOtherColumns(t *testing.T) {
	whole := columns()
	text := write(t, Parquet, Options{}, whole, values())
	other := append([]Column(nil), whole...)
	other[1].Name = "m"
	wide := append([]Column(nil), whole...)
	wide[2].Kind = Float64
	for why, list := range map[string][]Column{"list": whole, "want 1": whole[:1], "m was": other, "boost_kpa": wide} {
		f := &parquetBytes{Reader: bytes.NewReader([]byte(text))}
		if _, err := ReadParquet(t.Context(), f, list); err == nil || !strings.Contains(err.Error(), why) || f.closed {
			t.Errorf("%s: error %v, closed %v", why, err, f.closed)
		}
	}
	if _, err := ReadParquet(t.Context(), &parquetBytes{Reader: bytes.NewReader([]byte(text[:100]))}, whole); err == nil {
		t.Error("half of a file was read")
	}
}
