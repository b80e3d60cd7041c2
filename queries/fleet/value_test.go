package fleet

import (
	"io"
	"math/big"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"dynolake/queries/result"
)

func TestValues(t *testing.T) {
	for _, c := range []struct {
		kind result.Kind
		cell string
		want any
	}{
		{result.Text, `\N`, nil},
		{result.Text, `a\tb\nc\\d\'e`, "a\tb\nc\\d'e"},
		{result.Text, `\\N`, `\N`},
		{result.Text, ``, ""},
		{result.Bool, "true", true},
		{result.Bool, "0", false},
		{result.Int, "-9223372036854775808", int64(-9223372036854775808)},
		{result.Int, "3.0", int64(3)},
		{result.Big, "170141183460469231731687303715884105727", bigOf("170141183460469231731687303715884105727")},
		{result.Float32, "0.1", float32(0.1)},
		{result.Float64, "1.7976931348623157e308", 1.7976931348623157e308},
		{result.Time, "2026-03-31 08:30:00.250000", time.Date(2026, 3, 31, 8, 30, 0, 250e6, time.UTC)},
		{result.Time, "2026-03-31", time.Date(2026, 3, 31, 0, 0, 0, 0, time.UTC)},
		{result.Date, "2026-03-31", result.Day{Time: time.Date(2026, 3, 31, 0, 0, 0, 0, time.UTC)}},
		{result.Nested, `[1,NULL,2.5,'a\'b,]',true,[]]`, []any{int64(1), nil, 2.5, "a'b,]", true, []any{}}},
		{result.Nested, `[]`, []any{}},
		{result.Nested, `[[1],[2,3]]`, []any{[]any{int64(1)}, []any{int64(2), int64(3)}}},
	} {
		got, err := value(result.Column{Kind: c.kind}, c.cell)
		if err != nil || !cmp.Equal(got, c.want, cmp.Comparer(sameBig)) {
			t.Errorf("%q as kind %d: %#v, %v, want %#v", c.cell, c.kind, got, err, c.want)
		}
	}
	if d, err := value(result.Column{Kind: result.Decimal, Scale: 3}, "-1.25"); err != nil || d.(result.Fixed).String() != "-1.250" {
		t.Errorf("-1.25 with three digits: %v, %v", d, err)
	}
}

func bigOf(s string) *big.Int {
	n, _ := new(big.Int).SetString(s, 10)
	return n
}

func sameBig(a, b *big.Int) bool { return a.Cmp(b) == 0 }

func TestWrongValues(t *testing.T) {
	for kind, cells := range map[result.Kind][]string{
		result.Bool: {"yes", "2", ""}, result.Int: {"1.5", "x", "18446744073709551615", ""}, result.Big: {"1e9", ""}, result.Float64: {"1,5", ""}, result.Float32: {"one"},
		result.Decimal: {"one"}, result.Time: {"noon", ""}, result.Date: {"31.3.2026", ""}, result.Nested: {"1,2", "[1", "[1,]x", "['a]", "", "[1 2]", "["},
	} {
		for _, cell := range cells {
			if got, err := value(result.Column{Kind: kind}, cell); err == nil {
				t.Errorf("%q as kind %d: %v, want an error", cell, kind, got)
			}
		}
	}
}

func TestAnswersThatAreNoAnswers(t *testing.T) {
	columns := []result.Column{{Name: "a", Kind: result.Int}, {Name: "b", Kind: result.Text}}
	for text, say := range map[string]string{
		"":                               "before its columns are named",
		"a\tb\n":                         "before its columns are named",
		"a\nInt32\n":                     "it has 1 columns, want 2",
		"a\tb\nInt32\tString\n1\tx":      "cut off",
		"a\tb\nInt32\tString\n1\n":       "row 1 has not its 2 values",
		"a\tb\nInt32\tString\n1\t2\t3\n": "row 1 has not its 2 values",
		"a\tb\nInt32\tString\n1\tx\nCode: 241. DB::Exception: no more\n": "row 2 has not its 2 values",
		"a\tb\nInt32\tString\nx\ty\n":                                    "row 1, column a: found",
	} {
		r, err := newRows(io.NopCloser(strings.NewReader(text)), columns)
		for row := make([]any, 2); err == nil; {
			err = r.Next(row)
		}
		if !strings.Contains(err.Error(), say) {
			t.Errorf("%q: %v, want %q", text, err, say)
		}
	}
}

func TestWhatAnEngineSaid(t *testing.T) {
	for said, want := range map[string]Fault{
		"Code: 47. DB::Exception: Unknown expression identifier `nope` in scope SELECT nope. (UNKNOWN_IDENTIFIER) (version 26.7.2.1 (official build))\n": {47, "Unknown expression identifier `nope`"},
		"Code: 47, e.displayText() = DB::Exception: Unknown identifier: nope, e.what() = DB::Exception\n":                                                {47, "Unknown identifier: nope"},
		"Code: 159. DB::Exception: Timeout exceeded: elapsed 1010 ms, maximum: 1000 ms. (TIMEOUT_EXCEEDED)":                                              {159, "Timeout exceeded: elapsed 1010 ms, maximum: 1000 ms. (TIMEOUT_EXCEEDED)"},
		"out of order\n": {0, "out of order"},
		"Code: 115. DB::Exception: Unknown setting x": {115, "the engine is too old for translated statements: Unknown setting x"},
	} {
		f, ok := explain(said).(*Fault) //nolint:errorlint // It is made here.
		if !ok || *f != want {
			t.Errorf("%q: %+v, want %+v", said, f, want)
		}
	}
	if said := explain("Code: 1. DB::Exception: " + strings.Repeat("ü", 10_000)).Error(); len(said) > 2*longestMessage || !strings.HasSuffix(said, " …") {
		t.Errorf("a long message has %d bytes", len(said))
	}
	err := doing("read runs", discreet(explain("Code: 1. DB::Exception: s3('http://x', 'ID', 'se/cret') failed"), []string{"ID", "se/cret", ""}))
	if strings.Contains(err.Error(), "se/cret") || strings.Contains(err.Error(), "ID") {
		t.Errorf("a key is told: %v", err)
	}
}
