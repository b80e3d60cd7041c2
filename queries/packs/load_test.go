package packs

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// write makes files under a new folder and gives it.
func write(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func TestLoadOurs(t *testing.T) {
	set, err := Load("")
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, p := range set.All() {
		names = append(names, p.Name)
		if p.Title == "" || !strings.HasSuffix(p.Question, "?") || len(p.Columns) == 0 {
			t.Errorf("%s declares title %q, question %q and %d columns", p.Name, p.Title, p.Question, len(p.Columns))
		}
		for _, c := range p.Columns {
			if c.Unit == "" || c.Meaning == "" {
				t.Errorf("%s: column %q has unit %q and meaning %q", p.Name, c.Name, c.Unit, c.Meaning)
			}
		}
		for _, d := range p.Params {
			if d.Unit == "" || d.Meaning == "" || !strings.Contains(p.Source(), "$"+d.Name) {
				t.Errorf("%s: parameter %+v is not told of or not used", p.Name, d)
			}
		}
	}
	want := []string{"backpressure/by_power", "drive/by_power", "drive/onset", "platform/summary", "shift/by_pedal", "shift/points", "torque/curve", "torque/peak"}
	for _, w := range want {
		if !slices.Contains(names, w) {
			t.Errorf("there is no %s", w)
		}
	}
	if rows, err := set.Listing().All(); err != nil || len(rows) != len(names) {
		t.Errorf("listed %d and %v, want %d", len(rows), err, len(names))
	}
}

func TestPackSuggests(t *testing.T) {
	set, err := Load("")
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{"drive/onste": `"drive/onset"`, "onset": `"drive/onset"`, "torque": `"torque/curve"`, "shift/by_padel": `"shift/by_pedal"`} {
		if _, err := set.Pack(name); err == nil || !strings.Contains(err.Error(), "did you mean "+want) {
			t.Errorf("%s: got %v, want %s offered", name, err, want)
		}
	}
	if _, err := set.Pack("xyz"); err == nil || strings.Contains(err.Error(), "did you mean") {
		t.Errorf("got %v for a name that is close to none", err)
	}
}

func TestLoadUser(t *testing.T) {
	dir := write(t, map[string]string{
		"mine/plain.sql":     "-- title: Just a title\n-- mood: more of it\nSELECT 1 AS one",
		"mine/windows.sql":   "\ufeff-- title: Saved by an editor\r\n-- param days: integer, 3, -, how many\r\nSELECT $days AS days\r\n",
		"mine/alike.sql":     "-- title: On our fragments\nWITH\n-- include: on_basis\n-- include: alike\nq AS (SELECT count(*) AS n FROM alike)\nSELECT n FROM q",
		"mine/continued.sql": "-- title: Long\n-- question: goes on\n--   in another line?\n-- plot: points x=a y=b\nSELECT 1",
		"mine/untitled.sql":  "SELECT 1",
		"mine/unknown.sql":   "-- title: t\n-- param days: integer, 3, -, how many\nSELECT\n  1, $day",
		"mine/type.sql":      "-- title: t\n-- param days: nmuber, 3, -, how many\nSELECT $days",
		"mine/default.sql":   "-- title: t\n-- param days: integer, three, -, how many\nSELECT $days",
		"mine/short.sql":     "-- title: t\n-- param days: integer\nSELECT $days",
		"mine/twice.sql":     "-- title: t\n-- title: t\nSELECT 1",
		"mine/key.sql":       "-- titel: t\nSELECT 1",
		"mine/include.sql":   "-- title: t\nWITH\n-- include: alkie\nSELECT 1",
		"mine/empty.sql":     "-- title: t\n-- and nothing more\n",
		"mine/latin.sql":     "-- title: gr\xf6\xdfe\nSELECT 1",
		"drive/onset.sql":    "-- title: Mine\nSELECT 1",
		"mine/notes.txt":     "no pack",
	})
	set, err := Load(dir)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, p := range set.Problems {
		got = append(got, strings.TrimPrefix(p.Error(), dir+string(filepath.Separator)))
	}
	text := strings.Join(got, "\n")
	for _, want := range []string{
		"mine/untitled.sql:1:1: there is no title",
		`mine/unknown.sql:4:6: $day is no declared parameter (did you mean "days"?)`,
		`mine/type.sql:2:16: unknown type "nmuber" (did you mean "number"?)`,
		`mine/default.sql:2:16: default of days: found "three", want a whole number`,
		`mine/short.sql:2:16: found "integer", want`,
		`mine/twice.sql:2:1: "title" is declared twice`,
		`mine/key.sql:1:4: unknown key "titel" (did you mean "title"?)`,
		`mine/include.sql:3:13: nothing to include is called "alkie" (did you mean "alike"?)`,
		"mine/empty.sql:3:1: there is no SQL",
		"mine/latin.sql:1:1: the file is not UTF-8",
		`drive/onset.sql:1:1: the name "drive/onset" is one of ours`,
	} {
		if !strings.Contains(text, want) {
			t.Errorf("no problem says %s", want)
		}
	}
	if t.Failed() {
		t.Log(text)
	}
	for _, name := range []string{"mine/plain", "mine/windows", "mine/alike", "mine/continued"} {
		p, err := set.Pack(name)
		if err != nil {
			t.Error(err)
			continue
		}
		sql, err := p.SQL(nil)
		if err != nil {
			t.Error(err)
			continue
		}
		if _, rows, err := ask(t.Context(), nil, sql); err != nil || len(rows) != 1 || !p.User {
			t.Errorf("%s gave %v and %v", name, rows, err)
		}
	}
	if p, _ := set.Pack("mine/continued"); p.Question != "goes on in another line?" || p.Plot != "points x=a y=b" {
		t.Errorf("read question %q, plot %q", p.Question, p.Plot)
	}
	if p, _ := set.Pack("mine/alike"); len(p.Params) < 10 {
		t.Errorf("an included fragment's parameters are missing: %v", p.Params)
	}
	if s, err := Load(filepath.Join(dir, "not there")); err != nil || len(s.Problems) > 0 {
		t.Errorf("a lake without packs of its own gave %v", err)
	}
	if _, err := Load(filepath.Join(dir, "mine", "notes.txt")); err == nil {
		t.Error("a file was taken for the folder of packs")
	}
}
