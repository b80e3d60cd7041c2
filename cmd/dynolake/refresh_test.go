package main

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"dynolake/cmd/dynolake/demo"
	"dynolake/queries/tables"
)

// kills is how often the refresh is killed; DYNOLAKE_KILLS says otherwise.
func kills(t *testing.T) int {
	if text := os.Getenv("DYNOLAKE_KILLS"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	return 4
}

// TestRefresh shares the invented logs of two days among the tests of what a refresh promises: on the first day three vehicles, on the second one of them.
func TestRefresh(t *testing.T) {
	folder := t.TempDir()
	if _, err := demo.Write(t.Context(), folder); err != nil {
		t.Fatal(err)
	}
	d := days{config: filepath.Join(folder, "config"), logs: []string{t.TempDir(), t.TempDir()}}
	for _, lay := range []struct {
		day     int
		vehicle string
		rows    []int // Of its sheet.
	}{
		{0, "invented-car-a", []int{1, 2}}, {0, "invented-car-b", []int{1}}, {0, "invented-truck-f", []int{1}}, // Sweeps with the stock calibration.
		{1, "invented-car-a", []int{3, 5}}, // Two with the next.
	} {
		layRuns(t, filepath.Join(folder, "logs", lay.vehicle), filepath.Join(d.logs[lay.day], lay.vehicle), lay.rows)
	}
	t.Run("killed", d.killed)
	t.Run("two orders", d.twoOrders)
	t.Run("at once", d.atOnce)
}

// layRuns copies the logs of some rows of a folder's run sheet, with a sheet of their own.
func layRuns(t *testing.T, from, to string, take []int) {
	t.Helper()
	sheet, err := os.ReadFile(filepath.Join(from, "runs.csv"))
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(sheet)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	kept := rows[:1:1]
	for _, i := range take {
		kept = append(kept, rows[i])
		for _, name := range strings.Split(rows[i][slices.Index(rows[0], "files")], ";") {
			name, _, _ = strings.Cut(name, "#")
			copyFile(t, filepath.Join(from, name), filepath.Join(to, name))
		}
	}
	var text strings.Builder
	if err := csv.NewWriter(&text).WriteAll(kept); err != nil {
		t.Fatal(err)
	}
	putText(t, filepath.Join(to, "runs.csv"), text.String())
}

// days are logs of two days, and the configuration that they belong to.
type days struct {
	config string
	logs   []string
}

// lake makes an empty lake with the days' configuration.
func (d days) lake(t *testing.T) string {
	t.Helper()
	lake := filepath.Join(t.TempDir(), "lake")
	must(t, "init", "--lake", lake)
	for _, name := range []string{"vehicles.yaml", "dynos.yaml", "limits.yaml"} {
		copyFile(t, filepath.Join(d.config, name), filepath.Join(lake, "config", name))
	}
	return lake
}

func must(t *testing.T, args ...string) {
	t.Helper()
	var told bytes.Buffer
	if code := run(t.Context(), append([]string{"dynolake"}, args...), io.Discard, &told); code != 0 && code != exitSetAside {
		t.Fatalf("%q: exit %d: %s", args, code, told.String())
	}
}

func copyFile(t *testing.T, from, to string) {
	t.Helper()
	text, err := os.ReadFile(from)
	if err == nil {
		err = os.MkdirAll(filepath.Dir(to), 0o755)
	}
	if err == nil {
		err = os.WriteFile(to, text, 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// contents gives the files of a folder by name.
func contents(t *testing.T, dir string) map[string]string {
	t.Helper()
	files := map[string]string{}
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range list {
		text, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		files[e.Name()] = string(text)
	}
	return files
}

// Killed at any moment, a refresh leaves yesterday's tables or today's, a sound lake, and work that the next one ends.
func (d days) killed(t *testing.T) {
	lake, logs := d.lake(t), d.logs
	if err := os.CopyFS(filepath.Join(lake, "inbox"), os.DirFS(logs[0])); err != nil {
		t.Fatal(err)
	}
	must(t, "refresh", "--lake", lake)
	yesterday := contents(t, filepath.Join(lake, "tables"))
	fresh := filepath.Join(t.TempDir(), "lake")
	whole := func() string {
		if err := os.RemoveAll(fresh); err != nil {
			t.Fatal(err)
		}
		if err := os.CopyFS(fresh, os.DirFS(lake)); err != nil {
			t.Fatal(err)
		}
		if err := os.CopyFS(filepath.Join(fresh, "inbox"), os.DirFS(logs[1])); err != nil {
			t.Fatal(err)
		}
		return fresh
	}
	begun := time.Now()
	must(t, "refresh", "--lake", whole())
	took := time.Since(begun)
	today := contents(t, filepath.Join(fresh, "tables"))
	if maps.Equal(today, yesterday) {
		t.Fatal("the new logs changed no table")
	}
	old, n := 0, kills(t)
	for i := range n {
		lake := whole()
		killAfter(t, lake, took*time.Duration(2*i+1)/time.Duration(2*n))
		got := contents(t, filepath.Join(lake, "tables"))
		switch {
		case maps.Equal(got, yesterday):
			old++
		case !maps.Equal(got, today):
			t.Errorf("kill %d of %d: the tables are neither yesterday's nor today's: %q", i+1, n, slices.Sorted(maps.Keys(got)))
		}
		must(t, "verify", "--lake", lake, "--quick")
		must(t, "refresh", "--lake", lake)
		if !maps.Equal(contents(t, filepath.Join(lake, "tables")), today) {
			t.Errorf("kill %d of %d: the next refresh makes other tables", i+1, n)
		}
		if left, _ := filepath.Glob(filepath.Join(lake, "tables.*")); len(left) > 0 {
			t.Errorf("kill %d of %d: the next refresh leaves %q", i+1, n, left)
		}
	}
	t.Logf("%d kills over %v: %d found yesterday's tables, %d today's", n, took.Round(time.Millisecond), old, n-old)
}

// killAfter runs a refresh in a process of its own and kills it.
func killAfter(t *testing.T, lake string, after time.Duration) {
	t.Helper()
	c := exec.CommandContext(t.Context(), "dynolake", "refresh", "--lake", lake)
	c.Stdout, c.Stderr = io.Discard, io.Discard
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(after)
	_ = c.Process.Kill() // It may have ended.
	_ = c.Wait()         // It says that it was killed.
}

// The same logs in another order of ingest give the same bytes of every table.
func (d days) twoOrders(t *testing.T) {
	first, second, logs := d.lake(t), d.lake(t), d.logs
	for _, l := range logs {
		must(t, "ingest", "--lake", first, l)
	}
	for _, l := range slices.Backward(logs) {
		must(t, "ingest", "--lake", second, l)
	}
	must(t, "refresh", "--lake", first)
	must(t, "refresh", "--lake", second)
	a, b := contents(t, filepath.Join(first, tables.Folder)), contents(t, filepath.Join(second, tables.Folder))
	if len(a) < 20 || len(a) != len(b) {
		t.Errorf("%d and %d files of tables", len(a), len(b))
	}
	for name, text := range a {
		if text != b[name] {
			t.Errorf("%s is another in the other order", name)
		}
	}
	if rows := bytes.Count([]byte(a["torque_curve.csv"]), []byte("\n")); rows < 20 {
		t.Errorf("torque_curve.csv has %d rows", rows)
	}
}

// While one process writes, a refresh says who it is and does nothing; a refresh that found nothing new is quick.
func (d days) atOnce(t *testing.T) {
	lake, logs := d.lake(t), d.logs
	must(t, "ingest", "--lake", lake, logs[0])
	must(t, "refresh", "--lake", lake)
	begun := time.Now()
	must(t, "refresh", "--lake", lake)
	t.Logf("a refresh that found nothing new took %v", time.Since(begun).Round(time.Millisecond))
	if err := os.CopyFS(filepath.Join(lake, "inbox"), os.DirFS(logs[1])); err != nil {
		t.Fatal(err)
	}
	c := exec.CommandContext(t.Context(), "dynolake", "refresh", "--lake", lake)
	c.Stderr = &bytes.Buffer{}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(500 * time.Millisecond) // It looks at the inbox for a second.
	var told bytes.Buffer
	code := run(t.Context(), []string{"dynolake", "refresh", "--lake", lake}, io.Discard, &told)
	want := fmt.Sprintf("\"dynolake refresh\" (process %d on ", c.Process.Pid)
	if code != exitFailed || !bytes.Contains(told.Bytes(), []byte(want)) || !bytes.Contains(told.Bytes(), []byte(", since 20")) {
		t.Errorf("exit %d: %s, want exit 1 and %s", code, told.String(), want)
	}
	if err := c.Wait(); err != nil && c.ProcessState.ExitCode() != exitSetAside {
		t.Error(err)
	}
}
