package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// The README's lists come from the catalogue and the packs, and its sessions are run. UPDATE_README=1 writes both anew.
func TestReadme(t *testing.T) {
	path, err := filepath.Abs("../../README.md") // The sessions run in other folders.
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	old := string(text)
	now := between(t, old, "<!-- channels -->", string(dynolake(t, "channels", "--brief", "--format", "markdown")))
	now = between(t, now, "<!-- packs -->", string(dynolake(t, "packs", "--brief", "--format", "markdown", "--lake", t.TempDir())))
	now = sessions(t, now)
	if os.Getenv("UPDATE_README") != "" {
		if err := os.WriteFile(path, []byte(now), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	compareLines(t, now, old)
}

func compareLines(t *testing.T, want, got string) {
	t.Helper()
	a, b := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			t.Fatalf("README.md:%d has\n%s\nthe program says\n%s", i+1, b[i], a[i])
		}
	}
	if len(a) != len(b) {
		t.Fatalf("README.md has %d lines, the program says %d", len(b), len(a))
	}
}

// between puts a list in place of what stands after a mark.
func between(t *testing.T, text, mark, list string) string {
	t.Helper()
	before, rest, ok := strings.Cut(text, mark+"\n")
	_, after, closed := strings.Cut(rest, "<!-- end -->")
	if !ok || !closed {
		t.Fatalf("README.md: %s … <!-- end --> is missing", mark)
	}
	return before + mark + "\n" + list + "<!-- end -->" + after
}

var session = regexp.MustCompile("(?s)<!-- run: (\\w+) -->\n```console\n(.*?)```\n")

// sessions runs the commands of every marked block and puts their output behind them.
func sessions(t *testing.T, text string) string {
	t.Helper()
	lakes := map[string]string{"demo": t.TempDir(), "samples": t.TempDir()}
	prepareDemo(t, lakes["demo"])
	have := prepareSamples(t, lakes["samples"])
	return session.ReplaceAllStringFunc(text, func(block string) string {
		m := session.FindStringSubmatch(block)
		if m[1] == "samples" && !have {
			return block
		}
		t.Chdir(lakes[m[1]])
		var b strings.Builder
		for _, line := range strings.Split(m[2], "\n") {
			if command, ok := strings.CutPrefix(line, "$ "); ok {
				b.WriteString(line + "\n" + say1(t, command))
			}
		}
		return "<!-- run: " + m[1] + " -->\n```console\n" + b.String() + "```\n"
	})
}

// say1 runs a command line and gives its stdout; a comment may state the exit code.
func say1(t *testing.T, line string) string {
	t.Helper()
	line, comment, _ := strings.Cut(line, " # exit ")
	want := 0
	if comment != "" {
		want = int(comment[0] - '0')
	}
	var out, errs bytes.Buffer
	if code := run(context.Background(), words(line), &out, &errs); code != want {
		t.Fatalf("README.md: %s: exit %d, want %d\n%s", line, code, want, errs.String())
	}
	return out.String()
}

// words splits a command line at blanks outside double quotes.
func words(line string) []string {
	var list []string
	for i, part := range strings.Split(line, `"`) {
		if i%2 == 1 {
			list = append(list, part)
		} else {
			list = append(list, strings.Fields(part)...)
		}
	}
	return list
}

func prepareDemo(t *testing.T, dir string) {
	t.Helper()
	if err := os.Symlink(demoLakeFolder(t), filepath.Join(dir, "lake")); err != nil {
		t.Fatal(err)
	}
}

// prepareSamples lays the README's sheet beside the samples it names.
func prepareSamples(t *testing.T, dir string) bool {
	t.Helper()
	from := os.Getenv("DYNOLAKE_SAMPLES")
	if from == "" {
		if os.Getenv("CI") != "" {
			t.Fatal("DYNOLAKE_SAMPLES is not set: it names the folder of the open sample logs")
		}
		return false
	}
	const sheet = "files,vehicle,calibration,test\nlight_diesel_obd_boost_long.csv,sample-car,stock,road\nchassis_dyno_fuel_speed_1hz.csv,sample-petrol,stock,other\n" +
		"hd_test_track.csv,sample-truck,stock,other\nhd_diesel_full_load.csv,sample-truck,stock,other\n"
	folder := filepath.Join(dir, "samples")
	if err := os.Mkdir(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(sheet, "\n")[1:] {
		name, _, _ := strings.Cut(line, ",")
		if name == "" {
			continue
		}
		text, err := os.ReadFile(filepath.Join(from, name))
		if err == nil {
			err = os.WriteFile(filepath.Join(folder, name), text, 0o644)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(folder, "runs.csv"), []byte(sheet), 0o644); err != nil {
		t.Fatal(err)
	}
	return true
}
