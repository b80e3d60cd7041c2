package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"dynolake/pipeline"
	"dynolake/pipeline/export/mdf4"
	"dynolake/queries/engine"
	"dynolake/queries/result"
	"dynolake/schema"
)

// writeMDF writes to a file that can be sought in, which stdout may not be.
func writeMDF(w io.Writer, f mdf4.File) error {
	to, ok := w.(io.WriteSeeker)
	if !ok {
		return fmt.Errorf("write MDF: want a file that can be written in any order")
	}
	f.Program, f.Version = "dynolake", pipeline.Version
	return mdf4.Write(to, f)
}

// rawMDF lays logs out as MDF groups, each with its own clock. The measurement's start is that of the clocks where they agree.
func rawMDF(logs []schema.Log) mdf4.File {
	var f mdf4.File
	agree := true
	for _, l := range logs {
		for _, s := range l.Series {
			g := mdf4.Group{Name: strings.TrimSuffix(l.Source+" "+s.Name, " "), Comment: l.Form, Clock: schema.Channel{Name: s.Clock.Name, Unit: "s"}, T: s.T}
			for i, c := range s.Channels {
				g.Channels = append(g.Channels, mdf4.Channel{Channel: c, Values: s.Values[i], Texts: map[int]string{}})
			}
			for _, t := range s.Texts {
				g.Channels[t.Channel].Texts[t.Row] = t.Text
			}
			if f.Start.IsZero() && len(f.Groups) == 0 {
				f.Start, f.Local = s.Clock.Start, !s.Clock.Zoned
			}
			agree = agree && s.Clock.Start.Equal(f.Start)
			f.Groups = append(f.Groups, g)
		}
	}
	if !agree || f.Start.IsZero() {
		f.Start, f.Local = time.Time{}, false
	}
	return f
}

// lakeMDF lays a run's columns out as one MDF group.
func lakeMDF(ctx context.Context, s *engine.Session, id string, rows *result.Rows) (mdf4.File, error) {
	f := mdf4.File{Comment: "run " + id, Groups: []mdf4.Group{{Name: id, Clock: schema.Channel{Name: "t_s", Unit: "s"}}}}
	g := &f.Groups[0]
	names := rows.Names()[1:]
	for _, n := range names {
		c, _ := schema.Lookup(n)
		g.Channels = append(g.Channels, mdf4.Channel{Channel: schema.Channel{Name: n, Unit: c.Unit, Comment: c.Meaning}, Texts: map[int]string{}})
	}
	all, err := rows.All()
	if err != nil {
		return f, err
	}
	for i, row := range all {
		g.T = append(g.T, float(row[0]))
		for k, v := range row[1:] {
			if text, ok := v.(string); ok {
				g.Channels[k].Texts[i] = text
			}
			g.Channels[k].Values = append(g.Channels[k].Values, float(v))
		}
	}
	started, err := s.Query(ctx, "SELECT started_at FROM runs WHERE run_id = "+literal(id))
	if err != nil {
		return f, err
	}
	at, err := started.All()
	if err == nil && len(at) == 1 {
		f.Start, _ = at[0][0].(time.Time) // Zero when it is not known.
	}
	return f, err
}

// float is a cell's number; NaN where it is none.
func float(v any) float64 {
	switch v := v.(type) {
	case float64:
		return v
	case float32:
		return float64(v)
	case int64:
		return float64(v)
	case int32:
		return float64(v)
	}
	return math.NaN()
}
