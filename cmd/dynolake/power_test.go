package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"

	"dynolake/pipeline/disk"
	"dynolake/pipeline/disk/disktest"
)

// outage is what a loss of power left of a deed's folder.
type outage struct {
	after string // The operation.
	dir   string
}

// The power goes after operations of each command that writes: what was not made durable is lost. What comes up again is a
// sound lake, and the same command comes to what an undisturbed one comes to. When the power goes after the command has ended,
// nothing that it did is lost. A plain run takes four moments a command; DYNOLAKE_FAULTS=each takes each kind, all every one.
func TestPowerLossInEveryCommand(t *testing.T) {
	for _, d := range deeds() {
		t.Run(d.name, func(t *testing.T) {
			tr := d.try(t)
			moments, end := tr.outages(t)
			for _, o := range moments {
				tr.again(t, o)
			}
			tr.over(t, end)
			t.Logf("the power went after %d of %d operations", len(moments)+1, len(tr.ops))
		})
	}
}

// outages does the deed and keeps what is left by a loss of power at some moments, and at the end.
func (tr trial) outages(t *testing.T) (moments []outage, end outage) {
	t.Helper()
	dir := tr.copy(t)
	c, err := disktest.NewCrash(dir, disktest.Quick())
	if err != nil {
		t.Fatal(err)
	}
	keep := func(after string) outage {
		o := outage{after, filepath.Join(t.TempDir(), "left")}
		if err := c.After(o.dir); err != nil {
			t.Errorf("power lost after %s: %v", after, err)
		}
		return o
	}
	wanted := tr.moments()
	var mu sync.Mutex
	seen := map[string]int{}
	c.Done = func(o disktest.Op) {
		mu.Lock()
		defer mu.Unlock()
		k := kind(dir, o)
		if seen[k]++; slices.Contains(wanted, disturbance{kind: k, which: seen[k]}) {
			moments = append(moments, keep(fmt.Sprintf("%s (%d)", k, seen[k])))
		}
	}
	if code, said := on(t.Context(), c.Disk(), tr.command(t, dir)...); code != tr.code {
		t.Fatalf("over a disk that keeps account: exit %d: %s", code, said)
	}
	c.Done = nil
	return moments, keep("its end")
}

// moments of a deed that a loss of power is tried at.
func (tr trial) moments() []disturbance {
	counts := map[string]int{}
	var list []disturbance
	for _, o := range tr.ops {
		if slices.Contains([]string{"write", "seek", "close"}, o.What) {
			continue // They make nothing durable.
		}
		k := kind(tr.ready, o)
		if counts[k]++; counts[k] == 1 || thorough() {
			list = append(list, disturbance{kind: k, which: counts[k]})
		}
	}
	const some = 4
	if os.Getenv("DYNOLAKE_FAULTS") != "" || len(list) <= some {
		return list
	}
	var spread []disturbance
	for i := range some {
		spread = append(spread, list[(2*i+1)*len(list)/(2*some)])
	}
	return spread
}

// again looks at what is left and does the deed once more.
func (tr trial) again(t *testing.T, o outage) {
	t.Helper()
	defer func() { _ = os.RemoveAll(o.dir) }()
	lake := filepath.Join(o.dir, "lake")
	if code, said := on(t.Context(), disk.OS(), "verify", "--lake", lake); code != 0 && !tr.unsaid {
		t.Errorf("power lost after %s: verify exits with %d: %s", o.after, code, said)
	}
	quick := disk.Disk{Ops: disktest.Quick()}
	if code, said := on(t.Context(), quick, tr.command(t, o.dir)...); code != tr.code && (code != 0 || tr.code != exitSetAside) {
		t.Errorf("power lost after %s: the second try: exit %d: %s", o.after, code, said)
		return
	}
	tr.over(t, o)
}

// over holds a folder to what the deed comes to.
func (tr trial) over(t *testing.T, o outage) {
	t.Helper()
	if code, said := on(t.Context(), disk.OS(), "verify", "--lake", filepath.Join(o.dir, "lake")); code != 0 {
		t.Errorf("power lost after %s: in the end verify exits with %d: %s", o.after, code, said)
		return
	}
	if diff := cmp.Diff(tr.rows, tr.look(t, o.dir)); diff != "" {
		t.Errorf("power lost after %s: it comes to something else: %s", o.after, diff)
	}
}
