package mdf4

import (
	"encoding/xml"
	"fmt"
	"io"
	"strings"
	"time"
)

// Write writes a file to w from its beginning. An error of w comes through; what was written then is no MDF file.
func Write(w io.WriteSeeker, f File) error {
	if err := f.check(); err != nil {
		return err
	}
	o := &out{w: w}
	if err := o.write(make([]byte, 64+104)); err != nil { // The identification and the header, which is always at 64.
		return err
	}
	var index []*block
	var groups []*block
	for _, g := range f.Groups {
		dg, all, err := o.group(g, f.Plain)
		if err != nil {
			return err
		}
		groups, index = append(groups, dg), append(index, all...)
	}
	for i := range groups {
		if i+1 < len(groups) {
			groups[i].links[0] = groups[i+1]
		}
	}
	history, comment := f.history(), f.comment()
	index = append(index, history, history.links[1])
	hd := f.header()
	hd.links[1] = history
	if comment != nil {
		index = append(index, comment)
		hd.links[5] = comment
	}
	if len(groups) > 0 {
		hd.links[0] = groups[0]
	}
	o.place(index)
	if err := o.put(index...); err != nil {
		return err
	}
	if _, err := w.Seek(0, io.SeekStart); err != nil {
		return fmt.Errorf("write MDF: %w", err)
	}
	if err := o.write(append(append(f.identification(), hd.head()...), hd.data...)); err != nil {
		return err
	}
	if _, err := w.Seek(0, io.SeekEnd); err != nil {
		return fmt.Errorf("write MDF: %w", err)
	}
	return nil
}

func (f *File) identification() []byte {
	b := make([]byte, 64)
	copy(b, "MDF     4.10    ")
	copy(b[16:24], "        ")
	copy(b[16:24], f.Program)
	le.PutUint16(b[28:], 410)
	return b
}

// header is the HD block, its links still to be set.
func (f *File) header() *block {
	b := &block{id: "HD", links: make([]*block, 6), data: make([]byte, 32)}
	ns, east, flags := stamp(f.Start, f.Local)
	le.PutUint64(b.data, ns)
	le.PutUint16(b.data[8:], uint16(east))
	b.data[12] = flags
	return b
}

// stamp is a time as nanoseconds from 1970, the minutes that its zone is east, and the flags that say which.
func stamp(t time.Time, local bool) (ns uint64, east int16, flags byte) {
	const isLocal, hasZone = 1, 2
	if t.IsZero() || t.Year() < 1970 || t.Year() > 2261 {
		return 0, 0, 0
	}
	if local {
		return uint64(t.UnixNano()), 0, isLocal
	}
	_, s := t.Zone()
	return uint64(t.UnixNano()), int16(s / 60), hasZone
}

// space is the name space of the standard's XML.
const space = "http://www.asam.net/mdf/v4"

// history is the FH block with its comment.
func (f *File) history() *block {
	name := f.Program
	if name == "" {
		name = "unnamed"
	}
	note := words("MD", "<FHcomment xmlns=\""+space+"\"><TX>written</TX><tool_id>"+escape(name)+"</tool_id><tool_vendor>"+escape(name)+"</tool_vendor><tool_version>"+escape(f.Version)+"</tool_version></FHcomment>")
	b := &block{id: "FH", links: []*block{nil, note}, data: make([]byte, 16)}
	ns, _, _ := stamp(f.Written, false)
	le.PutUint64(b.data, ns)
	return b
}

// comment is the header's MD block, nil when there is nothing to say.
func (f *File) comment() *block {
	if f.Comment == "" && len(f.Properties) == 0 {
		return nil
	}
	var s strings.Builder
	s.WriteString("<HDcomment xmlns=\"" + space + "\"><TX>" + escape(f.Comment) + "</TX><common_properties>")
	for _, p := range f.Properties {
		s.WriteString(`<e name="` + escape(p[0]) + `">` + escape(p[1]) + "</e>")
	}
	s.WriteString("</common_properties></HDcomment>")
	return words("MD", s.String())
}

func escape(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // A strings.Builder does not fail.
	return b.String()
}
