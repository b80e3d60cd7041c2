package packs

import (
	"strings"
	"testing"
)

func TestTokenizeFindsParameters(t *testing.T) {
	for sql, want := range map[string]string{
		"SELECT $a, $b_2 FROM t":                "a b_2",
		"SELECT '$a', \"$b\", $c":               "c",
		"SELECT 'it''s $a', $b":                 "b",
		`SELECT E'it\'s $a', $b`:                "b",
		`SELECT e'\\', $b`:                      "b",
		`SELECT type'\', $b`:                    "b", // No escape: the word ends in e and is none.
		"SELECT 1 -- $a\n, $b":                  "b",
		"SELECT /* $a /* $b */ $c */ $d":        "d",
		"SELECT $$ $a $$, $tag$ $b $$ $tag$":    "",
		"SELECT a$b, x.$c":                      "c",
		"SELECT $a$b":                           "", // A text that is not closed.
		"SELECT 'open $a":                       "",
		"SELECT $":                              "",
		"SELECT 5 * $größe":                     "größe",
		"SELECT $a--$b":                         "a",
		"SELECT '\u00e9' || $a /* open":         "a",
		"SELECT CAST($a AS DOUBLE)/$b, '--',$c": "a b c",
	} {
		var names []string
		for _, k := range tokenize(sql) {
			if k.kind == variable {
				names = append(names, k.text[1:])
			}
		}
		if got := strings.Join(names, " "); got != want {
			t.Errorf("%s: found %q, want %q", sql, got, want)
		}
	}
}

// FuzzTokenize: any text is cut without loss, and what stands for a parameter is a name after a dollar sign.
func FuzzTokenize(f *testing.F) {
	for _, s := range []string{"SELECT $a", "'", "$$", "/*/*", "--", "e'\\", "$a$", "x$a$b$"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, sql string) {
		var b strings.Builder
		for _, k := range tokenize(sql) {
			if k.offset != b.Len() {
				t.Fatalf("a token at %d says %d", b.Len(), k.offset)
			}
			b.WriteString(k.text)
			if k.kind == variable && (len(k.text) < 2 || k.text[0] != '$' || strings.ContainsAny(k.text[1:], "$'\" ")) {
				t.Fatalf("%q is no parameter", k.text)
			}
		}
		if b.String() != sql {
			t.Fatalf("cut into %q", b.String())
		}
	})
}
