package pipeline

import (
	"context"
	"fmt"
	"io"

	"dynolake/pipeline/lake"
	"dynolake/schema"
)

// Raw reads a run's archived bytes again and gives what was logged: a log a source and sheet, every channel with its own clock, name and
// unit, nothing repaired or converted. Sources that cannot be read, as they could not when the run was made, are named in left.
func Raw(ctx context.Context, l *lake.Lake, id string) (logs []schema.Log, left []schema.Finding, err error) {
	run, ok, err := l.Run(ctx, id)
	if err != nil {
		return nil, nil, err
	}
	if !ok {
		return nil, nil, &UnknownRunError{ID: id}
	}
	d, err := readDepends(run.Depends)
	if err != nil {
		return nil, nil, err
	}
	j := &job{members: d.Members}
	parts, bad, err := j.read(ctx, new(shelf), l)
	if err != nil {
		return nil, nil, err
	}
	for _, b := range bad {
		left = append(left, b.findings...)
	}
	if d.Part >= len(parts) {
		return nil, left, fmt.Errorf("read the logs of run %s: its sources hold %d parts and it was part %d: run `dynolake reprocess`", id, len(parts), d.Part+1)
	}
	return parts[d.Part], left, nil
}

// Value is one logged value, as export --raw lists it.
type Value struct {
	Source, Group string
	Channel       schema.Channel
	T             float64
	Number        float64 // NaN where Text stands.
	Text          string
}

// Values walks through the values of logs: channel by channel, in the order of time as logged. What was not logged is left out.
type Values struct {
	logs                      []schema.Log
	log, series, channel, row int
	texts                     map[int]string
}

// NewValues begins a walk.
func NewValues(logs []schema.Log) *Values { return &Values{logs: logs} }

// Next gives the next value, or io.EOF.
func (v *Values) Next() (Value, error) {
	for v.log < len(v.logs) {
		l := v.logs[v.log]
		if v.series == len(l.Series) {
			v.log, v.series = v.log+1, 0
			continue
		}
		s := l.Series[v.series]
		if v.channel == len(s.Channels) {
			v.series, v.channel = v.series+1, 0
			continue
		}
		if v.texts == nil {
			v.texts = map[int]string{}
			for _, t := range s.Texts {
				if t.Channel == v.channel {
					v.texts[t.Row] = t.Text
				}
			}
		}
		for v.row < len(s.T) {
			i := v.row
			v.row++
			x, text := s.Values[v.channel][i], v.texts[i]
			if x == x || text != "" {
				return Value{Source: l.Source, Group: s.Name, Channel: s.Channels[v.channel], T: s.T[i], Number: x, Text: text}, nil
			}
		}
		v.channel, v.row, v.texts = v.channel+1, 0, nil
	}
	return Value{}, io.EOF
}
