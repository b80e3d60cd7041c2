package result

import (
	"strings"
	"testing"
)

// What is printed without a closer look is what the closer look leaves as it is.
func FuzzWord(f *testing.F) {
	for _, s := range []string{"", "van-1", "-1", "a b", "=x", "1.5", "é", "a\x1b", "a,b", `a"`, "run/1", "@x", " x", "x ", "a\n"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if !isWord(s) {
			return
		}
		if inert(s) != s || strings.ContainsAny(s, "\",\r\n ") {
			t.Errorf("%q is taken for a word", s)
		}
	})
}
