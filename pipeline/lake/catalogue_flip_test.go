package lake

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// present is all that a catalogue holds of the lake as it is, and of its past what a writer goes by.
type present struct {
	text []string
	rows map[string][]string
}

func presentOf(t *testing.T, l *Lake) present {
	t.Helper()
	return present{catalogueText(t, l), dump(t, l)}
}

// A bit that is turned over in the catalogue, wherever it is, is found by verify with what it costs, or changes nothing of
// what the catalogue says of the lake; so is one that is cut short. A rebuild gives the catalogue that was. DYNOLAKE_FLIPS says
// how many are tried.
func TestEveryFlippedBitOfTheCatalogueIsFound(t *testing.T) {
	flips := 40
	if n, err := strconv.Atoi(os.Getenv("DYNOLAKE_FLIPS")); err == nil {
		flips = n
	}
	l := busy(t)
	was := presentOf(t, l)
	if _, err := l.db.Exec(`PRAGMA wal_checkpoint(TRUNCATE)`); err != nil {
		t.Fatal(err)
	}
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(l.root, catalogueName)
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	draw, found, rebuilds := rand.New(rand.NewPCG(3, 5)), 0, 0
	for n := range flips {
		spoilt := slices.Clone(whole)
		var what string
		if n%20 == 19 {
			size := draw.IntN(len(whole))
			spoilt, what = spoilt[:size], fmt.Sprintf("cut to %d bytes", size)
		} else {
			at, bit := draw.IntN(len(whole)), draw.IntN(8)
			spoilt[at] ^= 1 << bit
			what = fmt.Sprintf("bit %d of byte %d", bit, at)
		}
		replaceCatalogue(t, path, spoilt)
		if !noticed(t, l.root, was, what) {
			continue
		}
		if found++; found%8 == 1 {
			rebuilds++
			rebuiltAs(t, l.root, was, what)
		}
	}
	t.Logf("%d of %d faults in a catalogue of %d bytes found, the others change nothing; %d rebuilds, each gives what was", found, flips, len(whole), rebuilds)
	if found == 0 || rebuilds == 0 {
		t.Error("nothing was found: the test has lost its grip")
	}
}

func replaceCatalogue(t *testing.T, path string, with []byte) {
	t.Helper()
	for _, end := range []string{"-wal", "-shm"} {
		if err := os.Remove(path + end); err != nil && !errors.Is(err, os.ErrNotExist) {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(path, with, 0o644); err != nil {
		t.Fatal(err)
	}
}

// noticed reports whether verify finds a spoilt catalogue; one that it finds sound must say what it said before.
func noticed(t *testing.T, root string, was present, what string) bool {
	t.Helper()
	l, err := Open(t.Context(), root)
	if err != nil {
		return true
	}
	defer func() { _ = l.Close() }()
	problems, err := l.Verify(t.Context(), Checks{})
	if err != nil {
		return true
	}
	for _, p := range problems {
		if !p.Note {
			return true
		}
	}
	if diff := cmp.Diff(was.text, catalogueText(t, l)); diff != "" {
		t.Errorf("%s: verify finds nothing, and the catalogue says something else: %s", what, diff)
	}
	if diff := cmp.Diff(was.rows, dump(t, l)); diff != "" {
		t.Errorf("%s: verify finds nothing, and the rows are others: %s", what, diff)
	}
	return false
}

// rebuiltAs makes the catalogue anew and holds it to what it was.
func rebuiltAs(t *testing.T, root string, was present, what string) {
	t.Helper()
	problems, err := Rebuild(t.Context(), root, "test")
	if err != nil || Faults(problems) > 0 {
		t.Fatalf("%s: rebuild: %v, %v", what, problems, err)
	}
	again := open(t, root)
	defer func() { _ = again.Close() }()
	if diff := cmp.Diff(was, presentOf(t, again), cmp.AllowUnexported(present{})); diff != "" {
		t.Errorf("%s: the rebuilt catalogue is another: %s", what, diff)
	}
	clean(t, again)
}

// A catalogue of another lake, an older one of the same, an empty file and none at all are told, and a rebuild gives what was.
func TestAForeignCatalogueIsFound(t *testing.T) {
	l := busy(t)
	path := filepath.Join(l.root, catalogueName)
	other, _, _, _ := damaged(t)
	fresh := newTestLake(t)
	read := func(l *Lake) []byte {
		t.Helper()
		if _, err := l.db.Exec(`PRAGMA wal_checkpoint(TRUNCATE)`); err != nil {
			t.Fatal(err)
		}
		text, err := os.ReadFile(filepath.Join(l.root, catalogueName))
		if err != nil {
			t.Fatal(err)
		}
		return text
	}
	before := read(l)
	commitAll(t, l, Batch{Runs: []Entry{entry(7, 20, "a")}})
	commitAll(t, l, Batch{Runs: []Entry{entry(8, 20, "a")}}) // Of one commit less, nothing tells it from an interrupted save.
	was := presentOf(t, l)
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string][]byte{"another lake's": read(other), "an empty lake's": read(fresh), "an older one": before, "an empty file": {}} {
		replaceCatalogue(t, path, text)
		if !noticed(t, l.root, was, name) {
			t.Errorf("%s: verify finds nothing", name)
		}
		if w, err := Open(t.Context(), l.root, WithClock(func() time.Time { return time.Now().AddDate(0, 0, 1) })); err == nil { // By then, what is in no snapshot is swept.
			_, err = w.Write(t.Context(), "test")
			if err = errors.Join(err, w.Close()); err == nil || !strings.Contains(err.Error(), "--rebuild") {
				t.Errorf("%s: a writer starts on it: %v", name, err)
			}
		}
		rebuiltAs(t, l.root, was, name)
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if !noticed(t, l.root, was, "none") {
		t.Error("no catalogue: verify finds nothing")
	}
	rebuiltAs(t, l.root, was, "none")
}
