package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Each folder of testdata/golden is a whole way: logs with their sheet, a question and its answer.
func TestGoldenFolders(t *testing.T) {
	cases, err := filepath.Glob("../../testdata/golden/*")
	if err != nil || len(cases) < 4 {
		t.Fatalf("golden folders %v, %v", cases, err)
	}
	for _, dir := range cases {
		t.Run(filepath.Base(dir), func(t *testing.T) {
			lake := filepath.Join(t.TempDir(), "lake")
			dynolake(t, "init", "--lake", lake, "--quiet")
			dynolake(t, "ingest", "--lake", lake, "--quiet", filepath.Join(dir, "logs"))
			got := dynolake(t, "query", "--lake", lake, "--format", "csv", "--file", filepath.Join(dir, "ask.sql"))
			want, err := os.ReadFile(filepath.Join(dir, "want.csv"))
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(got, want) {
				t.Errorf("the answer is\n%swant\n%s", got, want)
			}
			dynolake(t, "verify", "--lake", lake, "--quiet")
		})
	}
}

// Each file of testdata/broken is set aside with one clear reason, a good neighbour lands, and the lake stays sound.
func TestBrokenFilesAreSetAside(t *testing.T) {
	wants, err := filepath.Glob("../../testdata/broken/*.want")
	if err != nil || len(wants) < 5 {
		t.Fatalf("broken files %v, %v", wants, err)
	}
	for _, want := range wants {
		name := strings.TrimSuffix(want, ".want")
		t.Run(filepath.Base(name), func(t *testing.T) {
			reason, err := os.ReadFile(want)
			if err != nil {
				t.Fatal(err)
			}
			files, err := filepath.Glob(name + ".[cpt][snx][vgt]")
			if err != nil || len(files) != 1 {
				t.Fatalf("files beside %s: %v, %v", want, files, err)
			}
			setAside(t, files[0], string(reason))
		})
	}
}

func setAside(t *testing.T, file, reason string) {
	t.Helper()
	lake, good := filepath.Join(t.TempDir(), "lake"), filepath.Join(t.TempDir(), "good.csv")
	if err := os.WriteFile(good, []byte("Time [s],RPM\n0,800\n1,801\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	dynolake(t, "init", "--lake", lake, "--quiet")
	var out, errs bytes.Buffer
	if code := run(context.Background(), []string{"dynolake", "ingest", "--lake", lake, file, good}, &out, &errs); code != exitSetAside {
		t.Errorf("exit %d, want %d", code, exitSetAside)
	}
	line := ""
	for _, l := range strings.Split(errs.String(), "\n") {
		if strings.HasPrefix(l, "set aside: ") {
			line += l
		}
	}
	if strings.Count(line, "set aside: ") != 1 || !strings.Contains(line, filepath.Base(file)) || !strings.Contains(line, reason) {
		t.Errorf("one reason that names the file and says %q is wanted, found:\n%s", reason, line)
	}
	rows := askJSON(t, lake, "--sql", "SELECT count(*) AS n FROM runs")
	told := askJSON(t, lake, "--sql", "SELECT count(*) AS n FROM findings WHERE severity = 'rejected' AND source = "+literal(filepath.Base(file)))
	if rows[0].num("n") != 1 || told[0].num("n") < 1 {
		t.Errorf("%v runs and %v rejections in the lake, want the neighbour and the reason", rows[0]["n"], told[0]["n"])
	}
	dynolake(t, "verify", "--lake", lake, "--quiet")
}
