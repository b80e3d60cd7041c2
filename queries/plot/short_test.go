package plot

import (
	"slices"
	"strings"
	"testing"
)

// Names of which each begins and ends like the others stay apart on a picture.
func TestNamesStayApart(t *testing.T) {
	style := newPen().style(labelSize, "#000000", true)
	names := []string{"stock", "calibration step 12, injected quantity and boost raised (draft)", "calibration step 13, injected quantity and boost raised (draft)", "calibration step 2 (draft)"}
	got := fitApart(style, names)
	for i, s := range got {
		if style.Width(s) > labelWidth || slices.Contains(got[:i], s) {
			t.Errorf("%q is shortened to %q among %q", names[i], s, got)
		}
	}
	if got[0] != "stock" || !strings.HasPrefix(got[1], "…12, injected") {
		t.Errorf("got %q", got)
	}
	if again := fitApart(style, []string{names[1], names[1]}); again[0] != again[1] {
		t.Errorf("one name gives %q", again)
	}
}
