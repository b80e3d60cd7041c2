package publish

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"log"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"

	"dynolake/pipeline/disk"
	"dynolake/pipeline/disk/disktest"
	"dynolake/pipeline/lake"
	"dynolake/pipeline/publish/store"
	"dynolake/schema"
)

const published = "s3://fleet/lake" // Where readers find it, wherever a test stores it.

func atFleet(form Form, d disk.Disk) Options {
	o := options(form)
	o.Location, o.Disk = published, d
	return o
}

// held is what a destination's pointers name: by pointer and table, each file with the checksum of its bytes.
func held(t *testing.T, s store.Store, form Form) map[string][]string {
	t.Helper()
	all := map[string][]string{}
	file := func(key, name string) {
		text, err := s.Read(t.Context(), name)
		if err != nil {
			t.Fatalf("%s names %s: %v", key, name, err)
		}
		all[key] = append(all[key], fmt.Sprintf("%s %x", name, sha256.Sum256(text)))
	}
	for _, def := range schema.Tables() {
		if form == Parquet {
			m, err := (&publication{store: s}).read(t.Context(), manifestName)
			if errors.Is(err, store.ErrNone) {
				return nil
			}
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range m.Tables[def.Name].Files {
				file("manifest", f.Path)
			}
			continue
		}
		if _, err := s.Stat(t.Context(), currentName); err == nil {
			for _, f := range planned(t, pointed(t, s, published, def.Name)) {
				file("current", strings.TrimPrefix(f.FilePath(), published+"/"))
			}
		}
		if _, err := s.Stat(t.Context(), def.Name+"/metadata/version-hint.text"); err == nil {
			for _, f := range planned(t, iceTable(t, s, published, def.Name)) {
				file(def.Name, strings.TrimPrefix(f.FilePath(), published+"/"))
			}
		}
	}
	for _, list := range all {
		slices.Sort(list)
	}
	return all
}

// wrong tells which pointers are neither at the state before nor at the one after.
func wrong(now, before, after map[string][]string) (bad []string) {
	for key := range after {
		if !slices.Equal(now[key], before[key]) && !slices.Equal(now[key], after[key]) {
			bad = append(bad, key)
		}
	}
	return bad
}

// stages are a lake before and after something came: what is published first, and then.
func stages(t *testing.T) (*lake.Lake, []func()) {
	l := newLake(t)
	return l, []func(){
		func() { commit(t, l, invent(1, 4, "van-b"), invent(2, 5, "van-a")) },
		func() { commit(t, l, invent(3, 0, "van-a"), invent(2, 5, "van-z")); compactAll(t, l) },
	}
}

// stride is 1 where each of n is wanted; a plain run takes eight, spread over all.
func stride(n int) int {
	if os.Getenv("DYNOLAKE_FAULTS") != "" {
		return 1
	}
	return 1 + n/8
}

// Each operation of the folder fails once, in the first publish and in one that adds and removes: it is said, readers have the
// state before or the one after, and the next publish comes to what an undisturbed one comes to.
func TestEachOperationOfAFolderFails(t *testing.T) {
	for _, form := range Forms() {
		l, happens := stages(t)
		ready, total := "", 0
		for _, happen := range happens {
			happen()
			run := func(fail func(int, disktest.Op) error) (string, []disktest.Op, error) {
				dest := filepath.Join(t.TempDir(), "out")
				if ready != "" {
					if err := os.CopyFS(dest, os.DirFS(ready)); err != nil {
						t.Fatal(err)
					}
				}
				faulty := &disktest.Faulty{On: disktest.Quick(), Fail: fail}
				_, err := Run(t.Context(), l, dest, atFleet(form, faulty.Disk()))
				return dest, faulty.Ops(), err
			}
			undisturbed, ops, err := run(nil)
			if err != nil {
				t.Fatal(err)
			}
			var before map[string][]string
			if ready != "" {
				before = held(t, openStore(t, ready, noEnv), form)
			}
			after := held(t, openStore(t, undisturbed, noEnv), form)
			for k := 0; k < len(ops); k += stride(len(ops)) {
				dest, ops, err := run(func(n int, _ disktest.Op) error {
					if n == k+1 {
						return syscall.EIO
					}
					return nil
				})
				if len(ops) <= k {
					continue // Four files are copied at a time: it did not come to so many.
				}
				if o := ops[k]; !errors.Is(err, syscall.EIO) && (o.What != "remove" || err != nil) {
					t.Errorf("%s: %v failed, and publish says %v", form, o, err)
				}
				ends(t, l, form, dest, noEnv, ops[k].String(), before, after)
				total++
			}
			ready = undisturbed
		}
		t.Logf("%s: %d operations failed", form, total)
	}
}

// ends looks at a destination after a publish that failed, and publishes again.
func ends(t *testing.T, l *lake.Lake, form Form, dest string, env func(string) string, what string, before, after map[string][]string) {
	t.Helper()
	s := openStore(t, dest, env)
	if bad := wrong(held(t, s, form), before, after); len(bad) > 0 {
		t.Errorf("%s after %s: %q are at neither state", form, what, bad)
	}
	o := atFleet(form, disk.Disk{Ops: disktest.Quick()})
	o.Env = env
	if _, err := Run(t.Context(), l, dest, o); err != nil {
		t.Errorf("%s after %s: the second try: %v", form, what, err)
		return
	}
	if diff := cmp.Diff(after, held(t, s, form)); diff != "" {
		t.Errorf("%s after %s: the second try comes to something else: %s", form, what, diff)
	}
	for info, err := range s.List(t.Context(), "") {
		if err != nil || strings.Contains(info.Name, disk.TempPrefix) {
			t.Errorf("%s after %s: left %s, %v", form, what, info.Name, err)
		}
	}
}

// moody is a server that fails one request in a way of its own.
type moody struct {
	next http.Handler
	seen atomic.Int64
	at   int64 // The request that fails, from 1; 0 for none.
	fail func(http.ResponseWriter)
	last atomic.Value // What failed.
}

func (m *moody) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if m.seen.Add(1) == m.at {
		m.last.Store(r.Method + " " + r.URL.String())
		m.fail(w)
		return
	}
	m.next.ServeHTTP(w, r)
}

func refused(w http.ResponseWriter) {
	w.WriteHeader(http.StatusForbidden)
	_, _ = fmt.Fprint(w, "<Error><Code>AccessDenied</Code></Error>")
}

func cutOff(http.ResponseWriter) { panic(http.ErrAbortHandler) }

// rented starts a bucket with what another one holds, and gives the server and the environment to reach it.
func rented(t *testing.T, like func(string) string) (*moody, func(string) string) {
	t.Helper()
	memory := s3mem.New()
	if err := memory.CreateBucket("lakes"); err != nil {
		t.Fatal(err)
	}
	m := &moody{next: gofakes3.New(memory, gofakes3.WithLogger(gofakes3.DiscardLog())).Server()}
	server := httptest.NewUnstartedServer(m)
	server.Config.ErrorLog = log.New(io.Discard, "", 0)
	server.Start()
	t.Cleanup(server.Close)
	set := map[string]string{"AWS_ENDPOINT_URL_S3": server.URL, "AWS_ACCESS_KEY_ID": keyID, "AWS_SECRET_ACCESS_KEY": secret}
	env := func(name string) string { return set[name] }
	if like == nil {
		return m, env
	}
	from, to := openStore(t, inBucket, like), openStore(t, inBucket, env)
	for info, err := range from.List(t.Context(), "") {
		if err != nil {
			t.Fatal(err)
		}
		text, err := from.Read(t.Context(), info.Name)
		if err == nil {
			err = store.PutBytes(t.Context(), to, info.Name, text)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	m.seen.Store(0)
	return m, env
}

const inBucket = "s3://lakes/x"

// Requests to a bucket are refused, one in turn, and the same holds. Where one is cut off, it is sent again and nobody notices.
func TestEachRequestToABucketFails(t *testing.T) {
	for _, c := range []struct {
		name string
		form Form
		step int64
		fail func(http.ResponseWriter)
		say  string
	}{
		{"refused", Iceberg, 1, refused, "does not permit it"},
		{"refused", Parquet, 1, refused, "does not permit it"},
		{"cut off", Iceberg, 29, cutOff, ""},
		{"cut off", Parquet, 29, cutOff, ""},
	} {
		l, happens := stages(t)
		var ready func(string) string
		total := 0
		for _, happen := range happens {
			happen()
			run := func(at int64) (*moody, func(string) string, error) {
				m, env := rented(t, ready)
				m.at, m.fail = at, c.fail
				o := atFleet(c.form, disk.Disk{})
				o.Env = env
				_, err := Run(t.Context(), l, inBucket, o)
				return m, env, err
			}
			m, undisturbed, err := run(0)
			if err != nil {
				t.Fatal(err)
			}
			requests := m.seen.Load()
			var before map[string][]string
			if ready != nil {
				before = held(t, openStore(t, inBucket, ready), c.form)
			}
			after := held(t, openStore(t, inBucket, undisturbed), c.form)
			for at := int64(1); at <= requests; at += max(c.step, int64(stride(int(requests)))) {
				m, env, err := run(at)
				what, hit := m.last.Load().(string)
				if !hit {
					continue
				}
				told := err != nil && strings.Contains(err.Error(), c.say)
				if c.say == "" && err != nil || c.say != "" && !told && (err != nil || !strings.Contains(what, "/current.json") && !strings.Contains(what, "/manifest.json")) {
					t.Errorf("%s, %s: %s, and publish says %v", c.form, c.name, what, err)
				}
				ends(t, l, c.form, inBucket, env, what, before, after)
				total++
			}
			ready = undisturbed
		}
		t.Logf("%s: %d requests %s", c.form, total, c.name)
	}
}

// The power goes after operations on a folder: readers have the state before or the one after, with all of its bytes, and the
// next publish comes to what an undisturbed one comes to. After a publish that has ended, nothing of it is lost.
func TestPowerLossWhilePublishing(t *testing.T) {
	for _, form := range Forms() {
		l, happens := stages(t)
		base := t.TempDir()
		dest := filepath.Join(base, "out")
		var before map[string][]string
		for _, happen := range happens {
			happen()
			c, err := disktest.NewCrash(base, disktest.Quick())
			if err != nil {
				t.Fatal(err)
			}
			type outage struct{ after, dir string }
			var outages []outage
			left := func(after string) string {
				dir := filepath.Join(t.TempDir(), "left")
				if err := c.After(dir); err != nil {
					t.Errorf("power lost after %s: %v", after, err)
				}
				return filepath.Join(dir, "out")
			}
			var mu sync.Mutex
			n := 0
			c.Done = func(o disktest.Op) {
				mu.Lock()
				defer mu.Unlock()
				if n++; n%(stride(200)) == 0 {
					outages = append(outages, outage{o.String(), left(o.String())})
				}
			}
			if _, err := Run(t.Context(), l, dest, atFleet(form, c.Disk())); err != nil {
				t.Fatal(err)
			}
			c.Done = nil
			after := held(t, openStore(t, dest, noEnv), form)
			if diff := cmp.Diff(after, held(t, openStore(t, left("its end"), noEnv), form)); diff != "" {
				t.Errorf("%s: the power went after the end, and it is lost: %s", form, diff)
			}
			for _, o := range outages {
				ends(t, l, form, o.dir, noEnv, "a loss of power after "+o.after, before, after)
			}
			t.Logf("%s: the power went after %d of %d operations", form, len(outages)+1, n)
			before = after
		}
	}
}
