package tokens

import (
	"strings"
	"testing"
)

func TestCutFindsParameters(t *testing.T) {
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
		for _, k := range Cut(sql) {
			if k.Kind == Variable {
				names = append(names, k.Text[1:])
			}
		}
		if got := strings.Join(names, " "); got != want {
			t.Errorf("%s: found %q, want %q", sql, got, want)
		}
	}
}

// FuzzCut: any text is cut without loss, and what stands for a parameter is a name after a dollar sign.
func FuzzCut(f *testing.F) {
	for _, s := range []string{"SELECT $a", "'", "$$", "/*/*", "--", "e'\\", "$a$", "x$a$b$"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, sql string) {
		var b strings.Builder
		for _, k := range Cut(sql) {
			if k.Offset != b.Len() {
				t.Fatalf("a token at %d says %d", b.Len(), k.Offset)
			}
			b.WriteString(k.Text)
			if k.Kind == Variable && (len(k.Text) < 2 || k.Text[0] != '$' || strings.ContainsAny(k.Text[1:], "$'\" ")) {
				t.Fatalf("%q is no parameter", k.Text)
			}
		}
		if b.String() != sql {
			t.Fatalf("cut into %q", b.String())
		}
	})
}
