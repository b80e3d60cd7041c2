package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dynolake/cmd/dynolake/demo"
	"dynolake/pipeline/disk"
)

// A lake whose demo is run again with more repeats gets the further vehicles; with fewer, it keeps those that its runs have. What a shop
// wrote stays.
func TestInstallConfigFollowsTheRepeats(t *testing.T) {
	from, to := t.TempDir(), t.TempDir()
	list := filepath.Join(to, "vehicles.yaml")
	install := func(repeat int) (vehicles int, err error) {
		m := demo.Default()
		m.Scale = repeat
		if err := m.WriteConfig(from); err != nil {
			t.Fatal(err)
		}
		err = installConfig(disk.OS(), filepath.Join(from, "config"), to)
		text, e := os.ReadFile(list)
		if e != nil {
			t.Fatal(e)
		}
		return strings.Count(string(text), "- id: "), err
	}
	for i, c := range []struct{ repeat, want int }{{1, 6}, {12, 12}, {12, 12}, {1, 12}, {10, 12}, {133, 84}, {12, 84}} {
		if n, err := install(c.repeat); err != nil || n != c.want {
			t.Errorf("%d: with %d repeats %d vehicles, %v, want %d", i, c.repeat, n, err, c.want)
		}
	}
	text, err := os.ReadFile(list)
	if err != nil {
		t.Fatal(err)
	}
	for name, changed := range map[string]string{
		"a vehicle more": string(text) + "  - id: van-x\n    platform: mine\n    duty: light\n",
		"another mass":   strings.Replace(string(text), "mass: 1560 kg", "mass: 1600 kg", 1),
	} {
		if err := os.WriteFile(list, []byte(changed), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := install(140); err == nil || !strings.Contains(err.Error(), "vehicles.yaml holds entries that are not the demo's") {
			t.Errorf("%s: %v", name, err)
		}
		if kept, err := os.ReadFile(list); err != nil || string(kept) != changed {
			t.Errorf("%s: the list was written over (%v)", name, err)
		}
	}
}
