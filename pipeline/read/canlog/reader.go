package canlog

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"

	"dynolake/pipeline/read/canlog/dbc"
	"dynolake/pipeline/read/canlog/frame"
	"dynolake/schema"
)

// Form is the form's name.
const Form = "can"

// Reader reads candump logs. It holds no state between files and may be shared.
type Reader struct {
	Databases []dbc.Database // The nearest first: the first that knows an id is followed.
}

var _ schema.Reader = Reader{}

// Form is the name of the form.
func (Reader) Form() string { return Form }

// Probe counts the lines that are frames: at least half of those that are not blank prove the form.
func (Reader) Probe(head []byte) schema.Fit {
	full := len(head) >= probeSize
	text := plain(head)
	eol := "\n"
	if bytes.IndexByte(text, '\n') < 0 {
		eol = "\r"
	}
	list := bytes.Split(text, []byte(eol))
	if full && len(list) > 1 {
		list = list[:len(list)-1]
	}
	frames, all := 0, 0
	var f frame.Frame
	for _, line := range list {
		if len(bytes.TrimSpace(line)) == 0 {
			continue
		}
		all++
		if err := frame.Parse(line, &f); err == nil || errors.Is(err, frame.ErrLength) {
			frames++
		}
	}
	if frames == 0 || frames*2 < all {
		return schema.Fit{Why: fmt.Sprintf("%d of %d lines are candump frames such as (1594172461.968006) can0 0C8#F000", frames, all)}
	}
	return schema.Fit{Score: 85, Why: fmt.Sprintf("%d of %d lines are candump frames", frames, all)}
}

// run is one reading of one source.
type run struct {
	ctx       context.Context
	databases []dbc.Database
	sink      schema.Sink
	tally     *tally
	clock     clock
	book      book
	torque    torques
	buses     map[string]*bus
	frames    int
	routes    int // Ids that are followed.
	lines     int
}

// Read streams the source into the sink, as schema.Reader has it.
func (rd Reader) Read(ctx context.Context, src schema.Source, sink schema.Sink) (err error) {
	f, err := src.Open()
	if err != nil {
		return fmt.Errorf("open %s: %w", src.Name, err)
	}
	defer func() {
		if e := f.Close(); err == nil && e != nil {
			err = fmt.Errorf("close %s: %w", src.Name, e)
		}
	}()
	l, err := newLines(f)
	if err != nil {
		return fmt.Errorf("read %s: %w", src.Name, err)
	}
	r := &run{ctx: ctx, databases: rd.Databases, sink: sink, tally: newTally(src.Name), buses: map[string]*bus{}}
	r.clock.deltas = deltas(l.head)
	r.book = book{sink: sink, clock: &r.clock}
	r.torque = torques{book: &r.book, tally: r.tally}
	if err := r.all(l); err != nil {
		return err
	}
	return r.close(l)
}

func (r *run) all(l *lines) error {
	var f frame.Frame
	for {
		if l.line%1024 == 0 {
			if err := r.ctx.Err(); err != nil {
				return err
			}
		}
		b, err := l.next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("read %s: %w", r.tally.source, err)
		}
		if b = bytes.TrimSpace(b); len(b) == 0 {
			continue
		}
		r.lines++
		if err := frame.Parse(b, &f); err != nil {
			r.badLine(l.line, b, err)
			continue
		}
		if err := r.one(&f, l); err != nil {
			return err
		}
	}
}

func (r *run) badLine(line int, b []byte, err error) {
	code := "cut_or_foreign_line"
	switch {
	case errors.Is(err, frame.ErrLength):
		code = "length_mismatch"
	case bytes.Contains(b, []byte("ERROR")):
		code = "error_frames"
	}
	r.tally.add(code, fmt.Sprintf("%s:%d:1: %v, found %.60q", r.tally.source, line, err, b))
}

// one takes a frame in.
func (r *run) one(f *frame.Frame, l *lines) error {
	if f.Error || f.Remote {
		code := "error_frames"
		if f.Remote {
			code = "remote_frames"
		}
		r.tally.add(code, "")
		return nil
	}
	b := r.bus(f.Bus)
	if b == nil {
		r.tally.add("too_many_buses", "")
		return nil
	}
	t, restart, ok := r.clock.at(f.Stamp)
	if !ok {
		r.tally.add("frame_without_time", fmt.Sprintf("%s:%d", r.tally.source, l.line))
		return nil
	}
	if restart {
		if err := r.restart(); err != nil {
			return err
		}
	}
	way := r.route(b, f)
	if way == nil {
		r.tally.by("can_unknown", b.name+" other ids", 1)
		return nil
	}
	if l.last && f.Len < way.length {
		r.tally.add("cut_or_foreign_line", fmt.Sprintf("%s:%d:1: the last line ends without a line ending and has %d bytes of %d", r.tally.source, l.line, f.Len, way.length))
		return nil
	}
	way.length = max(way.length, f.Len)
	r.frames++
	if len(r.book.groups) == 0 {
		b.traffic.add(t)
	}
	return r.frame(b, way, t, f)
}

func (r *run) busNames() []string { return slices.Sorted(maps.Keys(r.buses)) }

// restart begins the next part: what was under way belongs to none.
func (r *run) restart() error {
	for _, b := range r.buses {
		b.transport.Close()
		for _, way := range b.routes {
			if way.unit != nil {
				way.unit.isotp.Reset()
			}
		}
	}
	r.torque.restart()
	if err := r.bare(); err != nil {
		return err
	}
	if err := r.book.flush(); err != nil {
		return err
	}
	if len(r.book.groups) == 0 {
		return nil
	}
	r.tally.by("recorder_restart", "", 1)
	return r.sink.Restart()
}

// close gives the sink what is left, and refuses a source of which nothing was read.
func (r *run) close(l *lines) error {
	for range l.long {
		r.tally.add("line_too_long", "")
	}
	for _, name := range r.busNames() {
		b := r.buses[name]
		b.transport.Close()
		broken, malformed := b.transport.Broken, b.transport.Malformed
		for _, way := range b.routes {
			if way.unit != nil {
				way.unit.isotp.Reset()
				broken += way.unit.isotp.Broken
			}
		}
		if broken > 0 {
			r.tally.by("message_broken", name, broken)
		}
		if malformed > 0 {
			r.tally.by("message_malformed", name+" J1939 transport", malformed)
		}
	}
	if err := r.bare(); err != nil {
		return err
	}
	if err := r.book.flush(); err != nil {
		return err
	}
	r.clockFindings()
	r.torque.close()
	if len(r.book.groups) == 0 {
		return r.nothing()
	}
	r.tally.close(r.sink)
	return nil
}
