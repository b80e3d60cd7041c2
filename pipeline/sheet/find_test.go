package sheet

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// lay writes files into a new folder and makes it the working one.
func lay(t *testing.T, files map[string]string) {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	t.Chdir(dir)
}

// shown is a search's result as lines: a run as its files and vehicle, refused entries and findings by their codes.
func shown(t *testing.T, paths ...string) []string {
	t.Helper()
	found, err := Find(context.Background(), paths, Options{Leave: []string{"logs/refused"}})
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	show := func(word string, s Spec) {
		line := word
		for _, f := range s.Files {
			line += " " + f.Name
			if f.Member != "" {
				line += "(" + f.Member + ")"
			}
		}
		line += fmt.Sprintf(" [%s/%s %d]", s.Sheet.Vehicle, s.Sheet.Calibration, s.Rank)
		for _, f := range s.Findings {
			line += " " + f.Code
		}
		out = append(out, line)
	}
	for _, s := range found.Runs {
		show("run", s)
	}
	for _, s := range found.Refused {
		show("refused", s)
	}
	for _, p := range found.Findings {
		if p.Code != "run_sheet_rejected" {
			out = append(out, "problem "+p.Code)
		}
	}
	for _, p := range found.Skipped {
		out = append(out, "skipped "+p)
	}
	return out
}

func TestFind(t *testing.T) {
	for _, c := range []struct {
		name  string
		files map[string]string
		paths []string
		want  []string
	}{
		{"no sheet", map[string]string{"logs/b.csv": "", "logs/a.log": "", "logs/sub/c.xlsx": "", "logs/.d.csv": "", "logs/~$c.xlsx": "", "logs/README.md": "", "logs/x.dbc": "", "logs/refused/e.csv": "", "logs/.git/f.csv": ""},
			[]string{"logs"}, []string{"run a.log [/ -1]", "run b.csv [/ -1]", "run sub/c.xlsx [/ -1]", "skipped logs/README.md", "skipped logs/x.dbc"}},
		{"single sheet", map[string]string{"logs/a.csv": "", "logs/a.run.yaml": "vehicle: v1\ncalibration: c1\n", "logs/b.csv": ""},
			[]string{"logs"}, []string{"run a.csv [v1/c1 0]", "run b.csv [/ -1]"}},
		{"single sheet, only the log named", map[string]string{"a.csv": "", "a.run.yaml": "vehicle: v1", "b.csv": ""}, []string{"a.csv"}, []string{"run a.csv [v1/ 0]"}},
		{"single sheet, only the sheet named", map[string]string{"a.csv": "", "a.run.yaml": "vehicle: v1", "b.csv": ""}, []string{"a.run.yaml"}, []string{"run a.csv [v1/ 0]"}},
		{"single sheet of several", map[string]string{"a.csv": "", "b.csv": "", "a.run.yaml": "vehicle: v1\nfiles: [a.csv, b.csv]"}, []string{"b.csv"}, []string{"run a.csv b.csv [v1/ 0]"}},
		{"single sheet without log", map[string]string{"logs/a.run.yaml": "vehicle: v1", "logs/b.csv": ""}, []string{"logs"}, []string{"run b.csv [/ -1]", "refused [v1/ 0] run_sheet_rejected"}},
		{"compressed", map[string]string{"a.csv.gz": "", "a.run.yaml": "vehicle: v1"}, []string{"a.csv.gz"}, []string{"run a.csv.gz [v1/ 0]"}},
		{"table", map[string]string{"logs/a.csv": "", "logs/b.csv": "", "logs/c.csv": "", "logs/runs.csv": "files,vehicle\na.csv;b.csv,v1\n"},
			[]string{"logs"}, []string{"run a.csv b.csv [v1/ 1]", "run c.csv [/ -1]"}},
		{"table, only one log named", map[string]string{"a.csv": "", "b.csv": "", "c.csv": "", "runs.csv": "files,vehicle\na.csv;b.csv,v1\nc.csv,v2\nd.csv,v3\n"}, []string{"b.csv"}, []string{"run a.csv b.csv [v1/ 1]"}},
		{"missing file", map[string]string{"logs/a.csv": "", "logs/b.csv": "", "logs/runs.csv": "files,vehicle\na.csv;none.csv,v1\nb.csv,v2\n"},
			[]string{"logs"}, []string{"run b.csv [v2/ 1]", "refused a.csv [v1/ 1] run_sheet_rejected"}},
		{"bad value", map[string]string{"logs/a.csv": "", "logs/b.csv": "", "logs/runs.csv": "files,vehicle,baro\na.csv,v1,1013\nb.csv,v2,1013 mbar\n,v3,\n"},
			[]string{"logs"}, []string{"run b.csv [v2/ 1]", "refused a.csv [v1/ 1] run_sheet_rejected", "refused [v3/ 1] run_sheet_rejected"}},
		{"single wins over table and keeps the group", map[string]string{"logs/a.csv": "", "logs/b.csv": "", "logs/a.run.yaml": "vehicle: v9\n", "logs/runs.csv": "files,vehicle,calibration\na.csv;b.csv,v1,c1\n"},
			[]string{"logs"}, []string{"run a.csv b.csv [v9/c1 0] sheet_conflict"}},
		{"table wins over one above", map[string]string{"logs/x/a.csv": "", "logs/runs.csv": "files,vehicle,calibration\nx/a.csv,v1,c1\n", "logs/x/runs.csv": "files,vehicle\na.csv,v2\n"},
			[]string{"logs"}, []string{"run x/a.csv [v2/c1 1] sheet_conflict"}},
		{"table above, only the log named", map[string]string{"logs/x/a.csv": "", "logs/runs.csv": "files,vehicle\nx/a.csv,v1\n"}, []string{"logs/x/a.csv"}, []string{"run a.csv [v1/ 2]"}},
		{"named twice in one sheet", map[string]string{"logs/a.csv": "", "logs/b.csv": "", "logs/runs.csv": "files,vehicle\na.csv;a.csv,v1\na.csv;b.csv,v2\n"},
			[]string{"logs"}, []string{"run a.csv [v1/ 1] source_named_twice sheet_conflict", "run b.csv [v2/ 1]"}},
		{"named twice by the user", map[string]string{"logs/a.csv": ""}, []string{"logs", "logs/a.csv", "./logs/../logs/a.csv"}, []string{"run a.csv [/ -1]"}},
		{"members", map[string]string{"logs/k.xlsx": "", "logs/z.zip": "", "logs/runs.csv": "files,vehicle\nk.xlsx#One,v1\nk.xlsx#Two,v2\nz.zip/p/q.csv,v3\n"},
			[]string{"logs"}, []string{"run k.xlsx#One(One) [v1/ 1]", "run k.xlsx#Two(Two) [v2/ 1]", "run z.zip/p/q.csv(p/q.csv) [v3/ 1]"}},
		{"Windows names", map[string]string{"logs/sub/A.CSV": "", "logs/runs.csv": "files,vehicle\n" + `sub\a.csv` + ",v1\n"}, []string{"logs"}, []string{"run sub/A.CSV [v1/ 2]"}},
		{"unknown column is kept", map[string]string{"logs/a.csv": "", "logs/runs.csv": "files,vehicle,operator\na.csv,v1,kx\n"}, []string{"logs"}, []string{"run a.csv [v1/ 1] sheet_unknown_field"}},
		{"no headings", map[string]string{"logs/a.csv": "", "logs/runs.csv": "one,two\n1,2\n"}, []string{"logs"}, []string{"run a.csv [/ -1]", "problem run_sheet_unreadable"}},
		{"broken YAML", map[string]string{"logs/a.csv": "", "logs/a.run.yaml": "a: [1\nb: 2"}, []string{"logs"}, []string{"run a.csv [/ -1]", "problem run_sheet_unreadable"}},
		{"no such path", map[string]string{"a.csv": ""}, []string{"none", "a.csv"}, []string{"run a.csv [/ -1]", "problem path_missing"}},
		{"empty table", map[string]string{"logs/a.csv": "", "logs/runs.csv": ""}, []string{"logs"}, []string{"run a.csv [/ -1]"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			lay(t, c.files)
			if d := cmp.Diff(c.want, shown(t, c.paths...)); d != "" {
				t.Error(d)
			}
		})
	}
}

func TestFindStopsWhenCancelled(t *testing.T) {
	lay(t, map[string]string{"logs/a.csv": ""})
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Find(ctx, []string{"logs"}, Options{}); err == nil {
		t.Error("no error")
	}
}

func TestRefusalSaysWhereAndWhat(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"runs.csv", "files,test\na.csv,swep\n", `logs/runs.csv:2:7 test: found "swep": did you mean "sweep"?`},
		{"runs.csv", "vehicle;files;baro\nKühler;a.csv;0,2 kPa\n", `logs/runs.csv:2:14 baro: found "0,2 kPa", which is 0.2 kPa: want 50 to 110`},
		{"runs.csv", "files,standard\na.csv,SAE J1349\n", `logs/runs.csv:2:7 standard: found "SAE J1349": want one of none, iso1585-1992,`},
		{"runs.csv", "files,started_at\na.csv,03/05/2026 14:30\n", `logs/runs.csv:2:7 started_at: found "03/05/2026 14:30": a date that is read as 5 March or as 3 May: want`},
		{"runs.csv", "files,gear\na.csv,2.5\n", `logs/runs.csv:2:7 gear: found "2.5": want a whole number`},
		{"runs.csv", "files,vehicle\na.csv,v1,more\n", `logs/runs.csv:2:10: found "more", a cell more than there are headings (2)`},
		{"runs.csv", "vehicle,files\nv1,\n", `logs/runs.csv:2:4 files: found a row without files`},
		{"runs.csv", "files,vehicle\nab.csv,v1\n", `logs/runs.csv:2:1 files: found no file "ab.csv" in logs: did you mean "a.csv"?`},
		{"a.run.yaml", "vehicle: v1\nhumidity: 120 %\n", `logs/a.run.yaml:2:11 humidity: found "120 %"`},
		{"a.run.yaml", "vehicle: [v1, v2]\n", `logs/a.run.yaml:1:10 vehicle: found several values: want one`},
		{"a.run.yaml", "files:\n", `logs/a.run.yaml:1:1 files: found no file`},
		{"a.run.yaml", "cal: a\ncalibration: b\n", `logs/a.run.yaml:2:1 calibration: found "calibration" beside "cal", which both mean calibration: want one`},
	} {
		lay(t, map[string]string{"logs/a.csv": "", "logs/" + c.name: c.text})
		found, err := Find(context.Background(), []string{"logs"}, Options{})
		if err != nil || len(found.Refused) != 1 {
			t.Fatalf("%q: %+v, %v, want one refused entry", c.text, found, err)
		}
		var texts []string
		for _, f := range found.Refused[0].Findings {
			texts = append(texts, f.Text)
		}
		if got := strings.Join(texts, "\n"); !strings.Contains(got, c.want) {
			t.Errorf("%q:\n got %s\nwant %s", c.text, got, c.want)
		}
	}
}
