package config

import (
	"errors"
	"math"
	"strings"

	"dynolake/pipeline/config/entry"
	"dynolake/schema"
)

func (c *Config) readDynos(root entry.Value) error {
	forms, top := list(root, "dynos")
	errs := []error{top.Err()}
	seen := map[string]entry.Position{}
	for _, f := range forms {
		d := dyno(f)
		known(f, d.ID, seen)
		errs = append(errs, f.Err())
		c.Dynos = append(c.Dynos, Dyno{d, Fingerprint(d), f.Value.At.String()})
	}
	return errors.Join(errs...)
}

func dyno(f *entry.Form) schema.Dyno {
	f.Close("id", "kind", "equivalent_mass", "inertia", "roller_radius", "friction", "note")
	d := schema.Dyno{
		ID: f.Text("id"), Kind: f.Word("kind", Inertia, Brake),
		EquivalentMassKg: f.Number("equivalent_mass", entry.Want{Unit: "kg", Low: 1, High: 250000, Example: "1200 kg"}),
		Friction:         f.Polynomial("friction"),
	}
	for _, kind := range []string{Inertia, Brake, NoDyno} {
		if strings.EqualFold(d.ID, kind) {
			f.Fail(f.At("id"), "id", "found %q, which names a kind of dyno: want another id", d.ID)
		}
	}
	if !f.Has("kind") {
		f.Fail(f.Value.At, "kind", "found a dyno without kind: want kind: inertia or kind: brake")
	}
	inertia := f.Number("inertia", entry.Want{Unit: "kg·m2", Low: 1e-3, High: 1e6, Example: "20 kg·m2"})
	radius := f.Number("roller_radius", entry.Want{Unit: "m", Low: 0.02, High: 5, Example: "0.3 m"})
	if f.Has("inertia") && !f.Has("roller_radius") {
		f.Fail(f.At("inertia"), "inertia", "found no roller_radius beside it: want both, or equivalent_mass")
	}
	if inertia == 0 || radius == 0 {
		return d
	}
	mass := inertia / (radius * radius)
	if d.EquivalentMassKg > 0 && math.Abs(mass/d.EquivalentMassKg-1) > 0.01 {
		f.Fail(f.At("equivalent_mass"), "equivalent_mass", "found %q, but inertia and roller_radius give %.5g kg: want one of the two", f.Text("equivalent_mass"), mass)
	}
	if d.EquivalentMassKg == 0 {
		d.EquivalentMassKg = mass
	}
	return d
}
