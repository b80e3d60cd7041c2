package demo

import (
	"fmt"
	"io"
	"strings"
	"time"

	"dynolake/pipeline/export/mdf4"
	"dynolake/schema"
)

// measurement writes an MDF 4 file: a group for each rate, the shop's zone in its header.
func (r recorder) measurement(name string, sensors []*sensor, t *trace, start time.Time) ([]byte, error) {
	f := mdf4.File{
		Start: start.In(shopZone()), Written: start.Add(time.Duration(t.duration()) * time.Second), Program: "invented", Version: "1",
		Comment: label, Properties: [][2]string{{"test", name}},
	}
	for _, kept := range r.tables(sensors, t) {
		g := mdf4.Group{Name: fmt.Sprintf("%g Hz", kept.rate), Clock: schema.Channel{Name: strings.ToLower(r.timeName), Unit: "s"}, T: kept.t}
		for k, s := range kept.sensors {
			g.Channels = append(g.Channels, mdf4.Channel{Channel: schema.Channel{Name: s.name, Unit: s.unit}, Values: kept.values[k]})
		}
		f.Groups = append(f.Groups, g)
	}
	var m seekable
	if err := mdf4.Write(&m, f); err != nil {
		return nil, err
	}
	return m.data, nil
}

// shopZone is the invented shop's: an hour ahead of UTC.
func shopZone() *time.Location { return time.FixedZone("", 3600) }

// seekable is a file in memory that can be written in any order.
type seekable struct {
	data []byte
	at   int64
}

func (m *seekable) Write(p []byte) (int, error) {
	if missing := m.at + int64(len(p)) - int64(len(m.data)); missing > 0 {
		m.data = append(m.data, make([]byte, missing)...)
	}
	n := copy(m.data[m.at:], p)
	m.at += int64(n)
	return n, nil
}

// Seek moves to an offset from the beginning, from here or from the end.
func (m *seekable) Seek(offset int64, whence int) (int64, error) {
	switch whence {
	case io.SeekCurrent:
		offset += m.at
	case io.SeekEnd:
		offset += int64(len(m.data))
	}
	if offset < 0 {
		return m.at, fmt.Errorf("seek to %d: before the beginning", offset)
	}
	m.at = offset
	return offset, nil
}
