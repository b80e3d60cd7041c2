package publish

import (
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"dynolake/pipeline/publish/store"
	"dynolake/schema"
)

var errKilled = errors.New("killed")

// mortal is a store whose user dies before a change to it: nothing is done from then on.
type mortal struct {
	store.Store
	mu   sync.Mutex
	left int // Changes until then.
}

func (m *mortal) step(do func() error) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.left--; m.left < 0 {
		return errKilled
	}
	return do()
}

func (m *mortal) Put(ctx context.Context, name string, from io.Reader, size int64) error {
	return m.step(func() error { return m.Store.Put(ctx, name, from, size) })
}

func (m *mortal) Create(ctx context.Context, name string, content []byte) error {
	return m.step(func() error { return m.Store.Create(ctx, name, content) })
}

func (m *mortal) Remove(ctx context.Context, name string) error {
	return m.step(func() error { return m.Store.Remove(ctx, name) })
}

func (m *mortal) List(ctx context.Context, prefix string) iter.Seq2[store.Info, error] {
	return m.Store.List(ctx, prefix)
}

// Killed before each change of the store in turn, a publish leaves every table as it was or as it was to become, the pointer
// at one snapshot of the lake, and nothing that the next publish cannot mend.
func TestKilledAtEveryStep(t *testing.T) {
	for _, form := range Forms() {
		t.Run(string(form), func(t *testing.T) {
			l := stocked(t)
			before := lakeDigests(t, l)
			dest := filepath.Join(t.TempDir(), "out")
			first := publishTo(t, l, dest, form)
			s := openStore(t, dest, noEnv)
			commit(t, l, invent(2, 5, "van-z"), invent(4, 4, "van-a"))
			look := &seen{dest: dest, location: first.URI, before: before, after: lakeDigests(t, l), known: map[string]bool{}}
			for n := 0; ; n++ {
				_, err := run(t.Context(), l, &mortal{Store: s, left: n}, options(form))
				if err != nil && !errors.Is(err, errKilled) {
					t.Fatalf("killed before change %d: %v", n+1, err)
				}
				look.either(t, s, form)
				if err == nil {
					if n < 10 {
						t.Errorf("the whole publish makes %d changes: the test kills nothing", n)
					}
					break
				}
			}
			publishTo(t, l, dest, form)
			if form == Parquet {
				globbed(t, l, dest)
				listed(t, dest)
				return
			}
			sameAsLake(t, l, s, first.URI)
		})
	}
}

// seen holds what readers see to the state before or after; what was looked at once is not read again.
type seen struct {
	dest, location string
	before, after  map[string]string
	known          map[string]bool
}

func (e *seen) either(t *testing.T, s store.Store, form Form) {
	t.Helper()
	pointers := []string{manifestName}
	if form == Iceberg {
		pointers = []string{currentName}
		for _, def := range schema.Tables() {
			pointers = append(pointers, def.Name+"/metadata/version-hint.text")
		}
	}
	for _, name := range pointers {
		text, err := s.Read(t.Context(), name)
		if err != nil {
			t.Fatal(err)
		}
		if key := name + string(text); !e.known[key] {
			e.known[key] = true
			e.look(t, s, name)
		}
	}
}

// look reads what a pointer points to.
func (e *seen) look(t *testing.T, s store.Store, pointer string) {
	t.Helper()
	table, _, _ := strings.Cut(pointer, "/")
	found := map[string]string{}
	for _, def := range schema.Tables() {
		var files []string
		switch pointer {
		case manifestName:
			m, err := (&publication{store: s}).read(t.Context(), manifestName)
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range m.Tables[def.Name].Files {
				files = append(files, filepath.Join(e.dest, f.Path))
			}
		case currentName:
			files = iceFiles(t, s, e.location, pointed(t, s, e.location, def.Name))
		default:
			if def.Name != table {
				continue
			}
			files = iceFiles(t, s, e.location, iceTable(t, s, e.location, def.Name))
		}
		found[def.Name] = digest(t, def, byID(def, files))
	}
	if !within(found, e.before) && !within(found, e.after) {
		t.Errorf("what %s points to is of no snapshot of the lake", pointer)
	}
}

// within reports whether the digests of some tables are all those of a state.
func within(some, state map[string]string) bool {
	for name, v := range some {
		if state[name] != v {
			return false
		}
	}
	return len(some) > 0
}

// A first publish that breaks off is taken up where it was: what is there is not moved again.
func TestABrokenFirstPublishGoesOn(t *testing.T) {
	l := stocked(t)
	for _, form := range Forms() {
		dest := filepath.Join(t.TempDir(), string(form))
		s := openStore(t, dest, noEnv)
		if _, err := run(t.Context(), l, &mortal{Store: s, left: 6}, options(form)); !errors.Is(err, errKilled) {
			t.Fatal(err)
		}
		r := publishTo(t, l, dest, form)
		var moved, all int64
		for _, m := range r.Tables {
			moved += m.Copied
			all += m.Bytes
		}
		if moved >= all {
			t.Errorf("--as %s: moved %d of %d bytes again", form, moved, all)
		}
	}
}

// racing is a store to which another publisher publishes right before this one makes its first table visible.
type racing struct {
	store.Store
	other func()
}

func (r *racing) Create(ctx context.Context, name string, content []byte) error {
	if strings.Contains(name, "/") && r.other != nil {
		r.other()
		r.other = nil
	}
	return r.Store.Create(ctx, name, content)
}

func TestOfTwoPublishersOneWins(t *testing.T) {
	for _, form := range Forms() {
		l := stocked(t)
		dest := filepath.Join(t.TempDir(), "out")
		s := openStore(t, dest, noEnv)
		_, err := run(t.Context(), l, &racing{Store: s, other: func() {
			if _, err := run(t.Context(), l, &unlocked{s}, options(form)); err != nil {
				t.Error(err)
			}
		}}, options(form))
		if !errors.Is(err, store.ErrTaken) || !strings.Contains(fmt.Sprint(err), "run publish again") {
			t.Errorf("--as %s: the slower one: %v", form, err)
		}
		if r, err := run(t.Context(), l, &unlocked{s}, options(form)); err != nil || r.New() {
			t.Errorf("--as %s: after the race: %+v, %v", form, r, err)
		}
	}
}

// unlocked is a folder without its lock, as a bucket is.
type unlocked struct{ store.Store }
