package packs

import (
	"errors"
	"strings"
	"testing"
)

func TestKnown(t *testing.T) {
	db := demoShop().open(t)
	set, err := Load("")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		pack    string
		params  map[string]string
		unknown string // The parameter named.
		nearest string
	}{
		{"torque/peak", nil, "", ""},
		{"torque/peak", map[string]string{"vehicle": "small a", "gear": "4"}, "", ""},
		{"torque/peak", map[string]string{"vehicle": "null"}, "", ""},
		{"torque/peak", map[string]string{"vehicle": "smal a"}, "vehicle", "small a"},
		{"torque/peak", map[string]string{"platform": "larg"}, "platform", "large"},
		{"torque/peak", map[string]string{"vehicle": "xyzzy-7"}, "vehicle", ""},
		{"torque/delta", map[string]string{"base": "step 0", "candidate": "step 1"}, "", ""},
		{"torque/delta", map[string]string{"base": "step0", "candidate": "step 1"}, "base", "step 0"},
		{"torque/delta", map[string]string{"vehicle": "small a", "candidate": "'step 1'"}, "candidate", "step 1"},
	} {
		p, err := set.Pack(c.pack)
		if err != nil {
			t.Fatal(err)
		}
		err = p.Known(t.Context(), db, c.params)
		var u *Unknown
		if !errors.As(err, &u) {
			if err != nil || c.unknown != "" {
				t.Errorf("%s %v: %v, want %q unknown", c.pack, c.params, err, c.unknown)
			}
			continue
		}
		if u.Param != c.unknown || u.Nearest != c.nearest || !strings.Contains(err.Error(), "there are ") {
			t.Errorf("%s %v: %v", c.pack, c.params, err)
		}
	}
}

// An empty lake has no names to hold a parameter against: its answers have no rows.
func TestKnownOfAnEmptyLake(t *testing.T) {
	set, err := Load("")
	if err != nil {
		t.Fatal(err)
	}
	p, err := set.Pack("torque/delta")
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Known(t.Context(), newShop(1).open(t), map[string]string{"base": "a", "vehicle": "b"}); err != nil {
		t.Error(err)
	}
}
