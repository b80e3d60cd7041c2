package main

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"

	"github.com/google/go-cmp/cmp"

	"dynolake/pipeline/disk"
	"dynolake/pipeline/disk/disktest"
	"dynolake/pipeline/lake"
)

// deed is a command that writes, on a folder that was made ready for it: DIR/lake and what else it needs.
type deed struct {
	name   string
	ready  func(t *testing.T, dir string)
	args   []string // DIR stands for the folder.
	code   int      // When undisturbed.
	unsaid bool     // Before it is done, verify does not find the lake sound.
	files  []string // What it writes beside the lake, relative to DIR.
}

func deeds() []deed {
	second := func(t *testing.T, dir string) {
		tinyLake(t, dir)
		putLogs(t, filepath.Join(dir, "second"), 2, 4, true)
	}
	several := func(t *testing.T, dir string) {
		tinyLake(t, dir)
		for n := 2; n < 5; n++ {
			logs := filepath.Join(dir, fmt.Sprint(n))
			putLogs(t, logs, n, n+1, false)
			must(t, "ingest", logs, "--lake", filepath.Join(dir, "lake"))
		}
	}
	published := func(form string) func(*testing.T, string) {
		return func(t *testing.T, dir string) {
			tinyLake(t, dir)
			must(t, "publish", filepath.Join(dir, "out"), "--as", form, "--location", "s3://fleet/lake", "--lake", filepath.Join(dir, "lake"))
			putLogs(t, filepath.Join(dir, "second"), 2, 4, false)
			must(t, "ingest", filepath.Join(dir, "second"), "--lake", filepath.Join(dir, "lake"))
			must(t, "compact", "--lake", filepath.Join(dir, "lake"))
		}
	}
	return []deed{
		{name: "init", ready: func(*testing.T, string) {}, args: []string{"init", "--lake", "DIR/lake"}, unsaid: true},
		{name: "ingest", ready: second, args: []string{"ingest", "DIR/second", "--lake", "DIR/lake"}, code: exitSetAside},
		{name: "reprocess", ready: func(t *testing.T, dir string) {
			tinyLake(t, dir)
			putText(t, filepath.Join(dir, "lake", "config", "vehicles.yaml"), strings.Replace(tinyVehicles, "invented", "other", 1))
		}, args: []string{"reprocess", "--lake", "DIR/lake"}},
		{name: "refresh", ready: func(t *testing.T, dir string) {
			tinyLake(t, dir)
			must(t, "refresh", "--lake", filepath.Join(dir, "lake"))
			putLogs(t, filepath.Join(dir, "lake", "inbox"), 2, 4, true)
		}, args: []string{"refresh", "--lake", "DIR/lake"}, code: exitSetAside, files: []string{"lake/reports/report.html"}},
		{name: "compact", ready: several, args: []string{"compact", "--lake", "DIR/lake"}},
		{name: "repair", ready: func(t *testing.T, dir string) {
			several(t, dir)
			damaged, err := filepath.Glob(filepath.Join(dir, "lake", "samples", "*", "*.parquet"))
			if err != nil || len(damaged) < 2 {
				t.Fatalf("%d files of samples: %v", len(damaged), err)
			}
			if err := errors.Join(os.Chmod(damaged[0], 0o644), os.Truncate(damaged[0], 100)); err != nil {
				t.Fatal(err)
			}
		}, args: []string{"verify", "--repair", "--lake", "DIR/lake"}, unsaid: true},
		{name: "rebuild", ready: several, args: []string{"verify", "--rebuild", "--lake", "DIR/lake"}},
		{name: "rebuild of a lost catalogue", ready: func(t *testing.T, dir string) {
			several(t, dir)
			if err := os.Remove(filepath.Join(dir, "lake", "catalogue.db")); err != nil {
				t.Fatal(err)
			}
		}, args: []string{"verify", "--rebuild", "--lake", "DIR/lake"}, unsaid: true},
		{name: "publish", ready: published("iceberg"), args: []string{"publish", "DIR/out", "--location", "s3://fleet/lake", "--lake", "DIR/lake"}, files: []string{"out/current.json"}},
		{name: "publish as Parquet", ready: published("parquet"), args: []string{"publish", "DIR/out", "--as", "parquet", "--location", "s3://fleet/lake", "--lake", "DIR/lake"}, files: []string{"out/manifest.json"}},
		{name: "report", ready: tinyReady, args: []string{"report", "--out", "DIR/new/report.html", "--lake", "DIR/lake"}, files: []string{"new/report.html"}},
		{name: "export", ready: tinyReady, args: []string{"export", "RUN", "--out", "DIR/run.csv", "--lake", "DIR/lake"}, files: []string{"run.csv"}},
		{name: "export as MDF", ready: tinyReady, args: []string{"export", "RUN", "--out", "DIR/run.mf4", "--lake", "DIR/lake"}, files: []string{"run.mf4"}},
		{name: "query", ready: tinyReady, args: []string{"query", "torque/peak", "--out", "DIR/peak.parquet", "--lake", "DIR/lake"}, files: []string{"peak.parquet"}},
		{name: "plot", ready: tinyReady, args: []string{"query", "torque/curve", "--plot", "DIR/curve.svg", "--lake", "DIR/lake"}, files: []string{"curve.svg"}},
	}
}

func tinyReady(t *testing.T, dir string) { tinyLake(t, dir) }

// trial is a deed with the folder made ready and what it comes to when nothing disturbs it.
type trial struct {
	deed
	ready string
	rows  map[string]string
	ops   []disktest.Op

	followed map[string]bool // What failures left, of which a second try was made.
}

// few is how many disturbances of a command a plain run tries, spread over all.
const few = 8

// thorough makes each operation of each file fail; DYNOLAKE_FAULTS=each is the first of each kind on files that are made by the same lines.
func thorough() bool { return os.Getenv("DYNOLAKE_FAULTS") == "all" }

// kind is an operation without what differs between runs and copies, and between files that are made by the same lines.
func kind(dir string, o disktest.Op) string {
	path := strings.TrimPrefix(o.Path, dir)
	for _, like := range []struct{ pattern, is string }{
		{`[0-9a-f]{16,64}|[0-9]{8}-|month=[0-9-]+|archive/[0-9a-f]{2}\b`, "*"},
		{`^/lake/tables(\.new-0|\.old)?/.*(\.csv|\.parquet)$`, "/lake/tables$1/*$2"},
		{`[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}|/[0-9]+-\*|snap-[0-9]+|v[0-9]+\.metadata`, "*"},
		{`^/out/(samples|runs|segments|curves|sources|unmapped|findings)\b`, "/out/TABLE"},
		{`^/lake/(runs|segments|curves|sources|unmapped|findings)\b`, "/lake/TABLE"},
		{`^/lake/config/.*/`, "/lake/config/*/"},
		{`pull-[0-9]`, "pull"},
	} {
		path = regexp.MustCompile(like.pattern).ReplaceAllString(path, like.is)
	}
	return o.What + " " + path
}

// disturbance fails one operation, or all that take room from one on.
type disturbance struct {
	kind  string
	which int  // Of that kind, from 1.
	full  bool // From there on there is no room.
}

func (d disturbance) String() string {
	if d.full {
		return fmt.Sprintf("no room from %s (%d) on", d.kind, d.which)
	}
	return fmt.Sprintf("%s (%d)", d.kind, d.which)
}

// errnoOf is what a system says when such an operation fails.
func errnoOf(what string) syscall.Errno {
	switch what {
	case "create", "write", "mkdir":
		return syscall.ENOSPC
	case "sync", "syncdir", "close", "seek", "commit":
		return syscall.EIO
	}
	return syscall.EROFS
}

// disk gives a disk with the disturbance, and whether it happened.
func (d disturbance) disk(dir string) (disk.Disk, *atomic.Bool) {
	var mu sync.Mutex
	var hit atomic.Bool
	seen := 0
	f := &disktest.Faulty{On: disktest.Quick(), Fail: func(_ int, o disktest.Op) error {
		mu.Lock()
		defer mu.Unlock()
		if hit.Load() {
			if d.full && slices.Contains([]string{"create", "write", "mkdir", "commit"}, o.What) {
				return syscall.ENOSPC
			}
			return nil
		}
		if kind(dir, o) != d.kind {
			return nil
		}
		if seen++; seen < d.which {
			return nil
		}
		hit.Store(true)
		if d.full {
			return syscall.ENOSPC
		}
		return errnoOf(o.What)
	}}
	return f.Disk(), &hit
}

// disturbances of a deed: the first operation of each kind, or each one where the test is thorough; some of them in a plain run.
func (tr trial) disturbances() []disturbance {
	counts := map[string]int{}
	for _, o := range tr.ops {
		counts[kind(tr.ready, o)]++
	}
	var list []disturbance
	for _, k := range slices.Sorted(maps.Keys(counts)) {
		for n := 1; n <= counts[k]; n++ {
			if n == 1 || thorough() {
				list = append(list, disturbance{kind: k, which: n})
			}
			if what, _, _ := strings.Cut(k, " "); what == "write" && (n == 1 || thorough()) {
				list = append(list, disturbance{kind: k, which: n, full: true})
			}
		}
	}
	if os.Getenv("DYNOLAKE_FAULTS") != "" || len(list) <= few {
		return list
	}
	var some []disturbance
	for i := range few {
		some = append(some, list[i*len(list)/few])
	}
	return some
}

// Each operation of each command that writes is made to fail: the command says so and exits with 1, the lake is sound, and the
// same command once more comes to what an undisturbed one comes to.
func TestEveryOperationOfEveryCommandMayFail(t *testing.T) {
	for _, d := range deeds() {
		t.Run(d.name, func(t *testing.T) {
			tr := d.try(t)
			list := tr.disturbances()
			for _, dis := range list {
				tr.disturb(t, dis)
			}
			t.Logf("%d operations, %d disturbances, which left %d kinds of folders", len(tr.ops), len(list), len(tr.followed))
		})
	}
}

// try makes a deed ready and does it undisturbed.
func (d deed) try(t *testing.T) trial {
	t.Helper()
	tr := trial{deed: d, ready: filepath.Join(t.TempDir(), "ready"), followed: map[string]bool{}}
	if err := os.MkdirAll(tr.ready, 0o755); err != nil {
		t.Fatal(err)
	}
	d.ready(t, tr.ready)
	dir := tr.copy(t)
	counting := &disktest.Faulty{On: disktest.Quick()}
	if code, said := on(t.Context(), counting.Disk(), tr.command(t, dir)...); code != d.code {
		t.Fatalf("undisturbed: exit %d: %s", code, said)
	}
	for _, o := range counting.Ops() {
		o.Path = strings.Replace(o.Path, dir, tr.ready, 1)
		tr.ops = append(tr.ops, o)
	}
	tr.rows = tr.look(t, dir)
	return tr
}

// copy makes a folder like the one that is ready.
func (tr trial) copy(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp(t.TempDir(), "try")
	if err == nil {
		err = os.CopyFS(dir, os.DirFS(tr.ready))
	}
	if err != nil {
		t.Fatal(err)
	}
	return dir
}

func (tr trial) command(t *testing.T, dir string) []string {
	t.Helper()
	var args []string
	for _, a := range tr.args {
		if a == "RUN" {
			list, err := filepath.Glob(filepath.Join(dir, "lake", "samples", "*", "*.parquet"))
			if err != nil || len(list) == 0 {
				t.Fatalf("no run to export: %v", err)
			}
			a = filepath.Base(list[0])[:16]
		}
		args = append(args, strings.Replace(a, "DIR", dir, 1))
	}
	return args
}

// look gives the rows of a lake and, by name, what the deed wrote beside it.
func (tr trial) look(t *testing.T, dir string) map[string]string {
	t.Helper()
	rows, err := rowsOf(t.Context(), filepath.Join(dir, "lake"))
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range tr.files {
		text, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil || len(text) == 0 {
			t.Errorf("%s: %d bytes, %v", name, len(text), err)
		}
		if strings.HasSuffix(name, ".html") { // It says when it was made.
			text = []byte("there")
		}
		rows[name] = string(text)
	}
	return rows
}

func (tr trial) disturb(t *testing.T, dis disturbance) {
	t.Helper()
	dir := tr.copy(t)
	defer func() { _ = os.RemoveAll(dir) }()
	lake := filepath.Join(dir, "lake")
	d, hit := dis.disk(dir)
	code, said := on(t.Context(), d, tr.command(t, dir)...)
	what, _, _ := strings.Cut(dis.kind, " ")
	errno := errnoOf(what)
	if dis.full {
		errno = syscall.ENOSPC
	}
	switch {
	case !hit.Load():
		t.Errorf("%s: it did not come to that", dis)
		return
	case what == "remove" && code == tr.code: // What is of no more use stays for the next time.
	case code != exitFailed || !strings.Contains(said, errno.Error()):
		t.Errorf("%s: exit %d, and it said %q, want exit 1 and %q", dis, code, said, errno)
	}
	if code, said := on(context.WithoutCancel(t.Context()), disk.OS(), "verify", "--lake", lake); code != 0 && !tr.unsaid {
		t.Errorf("%s: verify exits with %d: %s", dis, code, said)
	}
	if left := left(t, dir); os.Getenv("DYNOLAKE_FAULTS") != "" {
		if tr.followed[left] {
			return // What is left is like what another failure left, and that was seen to its end.
		}
		tr.followed[left] = true
	}
	quick := disk.Disk{Ops: disktest.Quick()}
	if code, said := on(t.Context(), quick, tr.command(t, dir)...); code != tr.code && (code != 0 || tr.code != exitSetAside) {
		t.Errorf("%s: the second try: exit %d: %s", dis, code, said)
		return
	}
	if code, said := on(t.Context(), disk.OS(), "verify", "--lake", lake); code != 0 {
		t.Errorf("%s: verify after the second try exits with %d: %s", dis, code, said)
	}
	if diff := cmp.Diff(tr.rows, tr.look(t, dir)); diff != "" {
		t.Errorf("%s: the second try comes to something else: %s", dis, diff)
	}
	if left := leftIn(dir); len(left) > 0 && tr.name != "init" {
		t.Logf("%s: left %q", dis, left)
	}
}

// left sums up a folder after a failure: its files with their sizes, and the bytes of those that are texts, without what
// differs between two runs of the same, and what the lake holds.
func left(t *testing.T, dir string) string {
	t.Helper()
	var lines []string
	err := filepath.WalkDir(dir, func(path string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() || strings.HasPrefix(e.Name(), "catalogue.db") || e.Name() == "writer.lock" {
			return err
		}
		line := kind(dir, disktest.Op{Path: path})
		if strings.HasSuffix(path, ".csv") || strings.HasSuffix(path, ".yaml") || strings.HasSuffix(path, ".txt") {
			text, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			line += fmt.Sprintf(" %x", sha256.Sum256(text))
		} else if info, err := e.Info(); err == nil && !strings.HasSuffix(path, ".html") && !strings.HasSuffix(path, ".json") { // These say when they were made.
			line += fmt.Sprint(" ", info.Size())
		}
		lines = append(lines, line)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(lines)
	if l, err := lake.Open(t.Context(), filepath.Join(dir, "lake")); err == nil {
		contents, err := l.Contents(t.Context())
		snap, err2 := l.Snapshot(t.Context())
		lines = append(lines, fmt.Sprint(contents, snap.ID, errors.Join(err, err2, l.Close())))
	}
	return strings.Join(lines, "\n")
}

// leftIn lists temporary files and folders that are still there.
func leftIn(dir string) (left []string) {
	_ = filepath.WalkDir(dir, func(path string, e os.DirEntry, err error) error {
		if err == nil && (strings.HasPrefix(e.Name(), disk.TempPrefix) || strings.HasPrefix(e.Name(), "tables.")) {
			left = append(left, path)
		}
		return nil
	})
	return left
}
