package lake

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"dynolake/schema"
)

func contents(t *testing.T, l *Lake) map[string]string {
	t.Helper()
	marks, err := l.Contents(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return marks
}

// What stands for the rows changes with them and with nothing else: not with a merge, but with another run, another fingerprint, a
// run that is stored anew as it was, and, of findings alone, with a refusal. That a run is stored anew is told by itself too.
func TestContents(t *testing.T) {
	l := shop(t, 4)
	was := contents(t, l)
	if _, err := compacted(t, l, Compaction{All: true}); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(was, contents(t, l)); d != "" {
		t.Errorf("a merge changed what stands for the rows (-before +after):\n%s", d)
	}
	commitAll(t, l, Batch{Runs: []Entry{entry(1, 20, "a")}})
	if d := cmp.Diff(was, contents(t, l)); d != "" {
		t.Errorf("a run that is there already changed it:\n%s", d)
	}
	for name, b := range map[string]Batch{
		"another run": {Runs: []Entry{entry(9, 20, "a")}}, "another fingerprint": {Runs: []Entry{entry(1, 20, "b")}},
		"stored anew": {Runs: []Entry{entry(2, 21, "a")}, Replace: true}, "stored anew again": {Runs: []Entry{entry(2, 21, "a")}, Replace: true},
		"taken out": {Retire: []string{entry(3, 22, "a").Run.ID}},
	} {
		was = contents(t, l)
		commitAll(t, l, b)
		now := contents(t, l)
		for table := range was {
			if other := table != "" || strings.HasPrefix(name, "stored anew"); (now[table] != was[table]) != other {
				t.Errorf("%s: what stands for the rows of %q is another: %v, want %v", name, table, !other, other)
			}
		}
	}
	was = contents(t, l)
	commitAll(t, l, Batch{Loose: []Refusal{{SHA256: fmt.Sprintf("%x", sha("bytes9")), Findings: []schema.Finding{{Source: "bad.csv", Severity: schema.Rejected, Code: "unreadable", Text: "no clock"}}}}})
	now := contents(t, l)
	if now["findings"] == was["findings"] || now["curves"] != was["curves"] {
		t.Errorf("a refusal: %v, before %v", now, was)
	}
}
