package mdf4

import (
	"fmt"
	"strings"
)

// mostNamed is how many events or attachments a finding names.
const mostNamed = 20

// What an EV block says it is.
var eventKinds = []string{"recording", "recording interrupt", "acquisition interrupt", "start trigger", "stop trigger", "trigger", "marker"}

// extras tells of what hangs on the header and is no channel: events with their times, and attached files.
func (f *file) extras(events, attached int64) error {
	if err := f.walk(events, "EV", 5, 32, f.event, "events_left_out", "%d events, which are no channels: %s"); err != nil {
		return err
	}
	return f.walk(attached, "AT", 4, 40, f.attachment, "attachments_left_out", "%d attached files, which are not read: %s")
}

// walk follows a list of blocks and says what they are. Damage ends it.
func (f *file) walk(at int64, id string, links, data int, describe func(*block) (string, error), code, format string) error {
	var said []string
	n := 0
	for ; at != 0; n++ {
		if err := f.ctx.Err(); err != nil {
			return err
		}
		b, err := f.extra(at, id, links, data)
		if isDamage(err) {
			f.doubt(code, "", "%s: what follows it is left out", err)
			break
		}
		if err != nil {
			return err
		}
		if len(said) < mostNamed {
			s, err := describe(b)
			if err != nil {
				return err
			}
			said = append(said, s)
		}
		at = b.links[0]
	}
	if n > len(said) {
		said = append(said, "…")
	}
	if n > 0 {
		f.say(code, "", format, n, strings.Join(said, "; "))
	}
	return nil
}

func (f *file) extra(at int64, id string, links, data int) (*block, error) {
	if err := f.once(id, at); err != nil {
		return nil, err
	}
	return f.block(at, links, data, id)
}

func (f *file) event(b *block) (string, error) {
	kind := fmt.Sprintf("event of kind %d", b.data[0])
	if int(b.data[0]) < len(eventKinds) {
		kind = eventKinds[b.data[0]]
	}
	const byTime = 1
	if b.data[1] == byTime {
		kind += fmt.Sprintf(" at %.6g s", float64(int64(le.Uint64(b.data[16:])))*double(b.data[24:]))
	}
	name, err := f.label(b.links[3], "name", "event")
	if err != nil {
		return "", err
	}
	note, err := f.label(b.links[4], "comment", "event")
	if err != nil {
		return "", err
	}
	for _, s := range []string{name, note} {
		if s != "" {
			kind += fmt.Sprintf(" %.200q", s)
		}
	}
	return kind, nil
}

func (f *file) attachment(b *block) (string, error) {
	name, err := f.label(b.links[1], "name", "attachment")
	if err != nil {
		return "", err
	}
	const embedded = 1
	if b.data[0]&embedded != 0 {
		return fmt.Sprintf("%.200q (inside)", name), nil
	}
	return fmt.Sprintf("%.200q (beside the file)", name), nil
}
