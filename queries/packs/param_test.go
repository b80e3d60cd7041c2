package packs

import (
	"strings"
	"testing"
)

func TestLiteral(t *testing.T) {
	for _, c := range []struct{ typ, value, want, fails string }{
		{"number", "1.5", "1.5e0", ""},
		{"number", " -3 ", "-3e0", ""},
		{"number", "1e-7", "1e-07", ""},
		{"number", "null", "NULL", ""},
		{"number", "", "NULL", ""},
		{"number", "NaN", "", "want a number"},
		{"number", "inf", "", "want a number"},
		{"number", "1,5", "", "want a number"},
		{"number", "1; DROP TABLE runs", "", "want a number"},
		{"integer", "42", "42", ""},
		{"integer", "4.2", "", "whole number"},
		{"text", "it's one's", "'it''s one''s'", ""},
		{"text", `"null"`, "'null'", ""},
		{"text", "'; DELETE FROM runs; --", "'''; DELETE FROM runs; --'", ""},
		{"boolean", "TRUE", "true", ""},
		{"boolean", "no", "false", ""},
		{"boolean", "maybe", "", "true or false"},
		{"list of numbers", "1.0,1.2, 1.5", "[1e0, 1.2e0, 1.5e0]", ""},
		{"list of numbers", "[2]", "[2e0]", ""},
		{"list of numbers", "", "[]", ""},
		{"list of numbers", "[]", "[]", ""},
		{"list of numbers", "1,,2", "", "element 2"},
		{"list of numbers", "[1,2", "", "bracket"},
		{"list of texts", `a, "b, c", d'e`, "['a', 'b, c', 'd''e']", ""},
		{"one of sweep|road", "road", "'road'", ""},
		{"one of sweep|road", "raod", "", `did you mean "road"?`},
	} {
		got, err := Param{Type: c.typ}.Literal(c.value)
		if c.fails != "" {
			if err == nil || !strings.Contains(err.Error(), c.fails) {
				t.Errorf("%s %q: got %q and %v, want an error that says %q", c.typ, c.value, got, err, c.fails)
			}
			continue
		}
		if err != nil || got != c.want {
			t.Errorf("%s %q: got %q and %v, want %q", c.typ, c.value, got, err, c.want)
		}
	}
}

func TestSQL(t *testing.T) {
	p, faults := parse("q.sql", "my/q", "-- title: t\n-- param a: number, 2, kPa, what, with a comma\n-- param b: text, null, -, b\nSELECT $a, '$a', $b -- $b\n;\n\n")
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	if p.Params[0].Meaning != "what, with a comma" || p.Params[0].Unit != "kPa" {
		t.Errorf("read %+v", p.Params[0])
	}
	for _, c := range []struct {
		params map[string]string
		want   string
	}{
		{nil, "SELECT 2e0, '$a', NULL -- $b"},
		{map[string]string{"a": "3", "b": "$a"}, "SELECT 3e0, '$a', '$a' -- $b"},
	} {
		got, err := p.SQL(c.params)
		if err != nil || !strings.HasSuffix(got, c.want) {
			t.Errorf("%v: got %q and %v, want it to end in %q", c.params, got, err, c.want)
		}
	}
	for _, c := range []struct {
		params map[string]string
		want   string
	}{
		{map[string]string{"c": "1"}, `read parameters of my/q: "c" is unknown: it takes a, b`},
		{map[string]string{"a": "x"}, `read parameter a of my/q: found "x", want a number`},
	} {
		if _, err := p.SQL(c.params); err == nil || err.Error() != c.want {
			t.Errorf("%v: got %v, want %s", c.params, err, c.want)
		}
	}
}

// A default may be written as SQL writes a text.
func TestDefaultInQuotes(t *testing.T) {
	for _, c := range []struct{ declared, want string }{
		{"text, van-1", "'van-1'"},
		{"text, 'van-1'", "'van-1'"},
		{`text, "van-1"`, "'van-1'"},
		{"text, 'it''s'", "'it''s'"},
		{"text, null", "NULL"},
		{"text, 'null'", "'null'"},
		{"one of sweep|road, 'road'", "'road'"},
	} {
		p, err := parseParam("a", c.declared+", -, what")
		if err != nil || p.literal != c.want {
			t.Errorf("%s: %q and %v, want %q", c.declared, p.literal, err, c.want)
		}
	}
}
