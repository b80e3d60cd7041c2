package pipeline

import (
	"context"
	"errors"
	"io"
	"math"
	"os"

	"dynolake/pipeline/mapping"
	"dynolake/pipeline/sheet"
	"dynolake/schema"
)

// Inspected is what a channel is and would become.
type Inspected struct {
	Source     string
	Form       string
	Part       int
	Group      string
	Clock      schema.Clock
	Channel    schema.Channel
	Values     int // Numbers logged.
	Texts      int
	First      float64 // Of the clock, seconds.
	Last       float64
	RateHz     float64
	Lowest     float64
	Highest    float64
	Column     string
	State      string // mapped, contested or unmapped.
	Conversion string
	Why        string
}

// Inspection is what files hold and would become, before anything is written.
type Inspection struct {
	Channels []Inspected
	Findings []schema.Finding
	SetAside []schema.Finding
}

// Inspect reads files as an ingest would, with their run sheets, and writes nothing.
func Inspect(ctx context.Context, r *Recipe, paths []string, fill schema.Sheet) (Inspection, error) {
	var out Inspection
	found, err := sheet.Find(ctx, paths, sheet.Options{})
	if err != nil {
		return out, err
	}
	for _, f := range found.Findings {
		out.add(f)
	}
	s := shelf{can: r.can}
	parted, err := s.part(ctx, found.Runs)
	if err != nil {
		return out, err
	}
	out.add(parted.Findings...)
	for _, spec := range parted.Runs {
		if err := r.inspect(ctx, &s, spec, sheet.Fill(spec.Sheet, fill), &out); err != nil {
			return out, err
		}
	}
	return out, nil
}

func (o *Inspection) add(found ...schema.Finding) {
	for _, f := range found {
		if f.Severity == schema.Rejected {
			o.SetAside = append(o.SetAside, f)
		} else {
			o.Findings = append(o.Findings, f)
		}
	}
}

func (r *Recipe) inspect(ctx context.Context, s *shelf, spec sheet.Spec, sh schema.Sheet, out *Inspection) error {
	out.add(spec.Findings...)
	var parts [][]schema.Log
	for _, f := range spec.Files {
		own, err := s.inspected(ctx, f, out)
		if err != nil {
			return err
		}
		for i, logs := range own {
			if i == len(parts) {
				parts = append(parts, nil)
			}
			parts[i] = append(parts[i], logs...)
		}
	}
	vehicle, _ := r.Config.Vehicle(sh.Vehicle)
	for part, logs := range parts {
		for _, l := range logs {
			out.add(l.Findings...)
		}
		m := r.match(logs, mapping.Context{Sheet: sh, Vehicle: &vehicle.Vehicle})
		out.add(m.findings...)
		for _, c := range m.claims {
			out.Channels = append(out.Channels, inspected(m, c, part))
		}
	}
	return nil
}

// inspected reads the sources of one file, part by part. The error is the context's.
func (s *shelf) inspected(ctx context.Context, f sheet.File, out *Inspection) ([][]schema.Log, error) {
	var parts [][]schema.Log
	members, err := s.members(ctx, f)
	if err != nil {
		members = []member{{Source: f.Name}}
	}
	for _, m := range members {
		own, err := s.logs(ctx, m, func() (io.ReadCloser, error) { return os.Open(f.Path) })
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if err != nil {
			bad := remark(schema.Rejected, "unreadable", math.NaN(), "", "%v", err)
			bad.Source = m.Source
			out.add(bad)
			continue
		}
		for i, logs := range own {
			if i == len(parts) {
				parts = append(parts, nil)
			}
			parts[i] = append(parts[i], logs...)
		}
	}
	return parts, nil
}

func size(path string) int64 {
	info, err := os.Stat(path)
	if errors.Is(err, os.ErrNotExist) || err != nil {
		return -1
	}
	return info.Size()
}

func inspected(m matched, c schema.Claim, part int) Inspected {
	l := m.logs[c.Log]
	s := l.Series[c.Series]
	nan := math.NaN()
	i := Inspected{Source: l.Source, Form: l.Form, Part: part, Group: s.Name, Clock: s.Clock, Channel: s.Channels[c.Channel], Lowest: nan, Highest: nan,
		First: nan, Last: nan, RateHz: nan, Column: c.Column, State: "mapped", Why: c.Why}
	switch {
	case c.Column == "":
		i.State = "unmapped"
	case c.Lost:
		i.State = "contested"
	}
	if c.Column != "" {
		i.Conversion = mapping.Formula(c)
	}
	for _, v := range s.Values[c.Channel] {
		if !math.IsNaN(v) {
			i.Values++
			i.Lowest, i.Highest = least(i.Lowest, v), -least(-i.Highest, -v)
		}
	}
	for _, x := range s.Texts {
		if x.Channel == c.Channel {
			i.Texts++
		}
	}
	if n := len(s.T); n > 0 {
		i.First, i.Last = s.T[0], s.T[n-1]
		if n > 1 {
			i.RateHz = float64(n-1) / (i.Last - i.First)
		}
	}
	return i
}

// least is the smaller of two numbers, where the first may be missing.
func least(a, b float64) float64 {
	if math.IsNaN(a) || b < a {
		return b
	}
	return a
}
