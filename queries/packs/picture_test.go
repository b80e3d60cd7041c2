package packs

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestPictures(t *testing.T) {
	columns := []Column{{Name: "kw"}, {Name: "ratio"}, {Name: "lo"}, {Name: "hi"}, {Name: "car"}, {Name: "limit_kpa"}}
	got, err := parsePictures("line x=kw y=ratio by=car band=lo:hi limit=drive_ratio reference=1,1.5; points x=ratio y=kw reference=1:1 limit=limit_kpa", columns)
	want := []Picture{
		{Kind: Line, X: "kw", Y: "ratio", By: []string{"car"}, Low: "lo", High: "hi", Limit: "drive_ratio", Levels: []float64{1, 1.5}},
		{Kind: Points, X: "ratio", Y: "kw", Equal: true, Limit: "limit_kpa"},
	}
	if d := cmp.Diff(want, got); err != nil || d != "" {
		t.Errorf("%v\n%s", err, d)
	}
	if _, err := parsePictures("line x=a y=b", nil); err != nil {
		t.Errorf("without declared columns: %v", err)
	}
	for text, want := range map[string]string{
		"":                                `unknown kind of picture ""`,
		"lime x=kw y=ratio":               `(did you mean "line"?)`,
		"line x=kw":                       "lacks x=COLUMN or y=COLUMN",
		"line x=kw y=ratio y=kw":          `"y" twice`,
		"line x=kw y=":                    "want key=value",
		"line x=kw y=ratio bye=car":       `(did you mean "by"?)`,
		"line x=kw y=ratoi":               `(did you mean "ratio"?)`,
		"line x=kw y=ratio band=lo":       "want band=LOW:HIGH",
		"line x=kw y=ratio reference=one": "want numbers",
		"line x=kw y=ratio reference=NaN": "want numbers",
		"line x=kw y=ratio limit=nothing": "neither a declared column nor",
		"line x=kw y=ratio;":              `unknown kind of picture ""`,
	} {
		if _, err := parsePictures(text, columns); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: got %v, want %s", text, err, want)
		}
	}
}

// A user's broken picture is named at its place, and a continued one where it begins.
func TestPictureFault(t *testing.T) {
	dir := write(t, map[string]string{"mine/a.sql": "-- title: t\n-- plot: line x=a\n--   y=b bye=c\nSELECT 1 AS a, 2 AS b"})
	set, err := Load(dir)
	if err != nil || len(set.Problems) != 1 || !strings.Contains(set.Problems[0].Error(), `a.sql:2:10: unknown key "bye" in plot`) {
		t.Errorf("got %v, %v", set.Problems, err)
	}
}
