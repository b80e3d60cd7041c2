package pipeline

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Read briefly, what a run depends on is the same but for its channels, whatever its texts hold.
func TestReadBrief(t *testing.T) {
	for _, note := range []string{"", "plain", `,"channels":[{"s":"x"}]`, `\,"channels":null}`, "quote\" and \\"} {
		for _, channels := range [][]header{nil, {}, {{"a.csv", "Boost", "kPa"}, {"a.csv", `,"channels":`, ""}}} {
			d := depends{Version: "x", Members: []member{{Source: `,"channels":.csv`, SHA256: "ab", Bytes: 3}}, Sheet: stated{Note: note}, AllMappings: "m", Channels: channels}
			whole, err := readDepends(d.text())
			if err != nil {
				t.Fatal(err)
			}
			brief, err := readBrief(d.text())
			if err != nil {
				t.Fatal(err)
			}
			if len(brief.Channels) > 0 {
				t.Errorf("%d channels read", len(brief.Channels))
			}
			brief.Channels = whole.Channels
			if diff := cmp.Diff(whole, brief, cmp.AllowUnexported(depends{}, member{}, header{}, stated{})); diff != "" {
				t.Errorf("%q: %s", note, diff)
			}
		}
	}
}
