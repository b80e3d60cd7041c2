package mdf4

import (
	"fmt"
	"strings"

	"dynolake/schema"
)

// What a CN block says a channel is.
const (
	fixedLength   = 0
	anyLength     = 1 // Its record holds an offset into a list of texts.
	masterChannel = 2
	virtualMaster = 3
	syncChannel   = 4
	limitedLength = 5 // Another channel says how much of it is filled.
	virtualData   = 6
)

// Its data types.
const (
	floatLittle  = 4
	floatBig     = 5
	textLatin    = 6
	textUTF16Big = 9
)

const (
	deepest       = 16      // Of channels within channels.
	widestCell    = 1 << 16 // Bytes of a text that are read.
	longestRecord = 1 << 20 // Bytes.
	allInvalid    = 1 << 0  // Flags.
	hasInvalid    = 1 << 1  //
)

var typeNames = map[uint8]string{10: "a byte array", 11: "media samples", 12: "a media stream", 13: "CANopen dates", 14: "CANopen times", 15: "complex numbers", 16: "complex numbers"}

// channel is a CN block.
type channel struct {
	at       int64
	name     string
	unit     string
	comment  string
	kind     uint8
	sync     uint8
	typ      uint8
	shift    uint8  // Bits.
	offset   uint32 // Bytes.
	bits     uint32
	flags    uint32
	validBit uint32
	data     int64
	field    field
	conv     conversion // Nil for values as they are.
	size     *channel   // How much of a limitedLength channel is filled.
	why      string     // Why its values cannot be mapped; empty when they can.
}

func (c *channel) text() bool    { return c.typ >= textLatin && c.typ <= textUTF16Big }
func (c *channel) float() bool   { return c.typ == floatLittle || c.typ == floatBig }
func (c *channel) virtual() bool { return c.kind == virtualMaster || c.kind == virtualData }

// schema is the channel as the sink takes it.
func (c *channel) schema() schema.Channel {
	return schema.Channel{Name: c.name, Unit: c.unit, Comment: c.comment}
}

// channels reads a list of CN blocks and what they are made of. Damage ends the list: what was read before stands.
func (f *file) channels(at int64, g *group, within string, depth int) ([]*channel, error) {
	var out []*channel
	if depth > deepest {
		f.doubt("channel_set_aside", within, "%q: channels within channels, more than %d deep, are left out", within, deepest)
		return nil, nil
	}
	for at != 0 {
		c, parts, next, err := f.channel(at, g, within)
		if isDamage(err) {
			f.lose(err)
			f.reject("channels_lost", "%s: the channels of group %q from the %s on cannot be found", err, g.name, ordinal(len(out)+1))
			break
		}
		if err != nil {
			return nil, err
		}
		out = append(out, c)
		if parts != 0 {
			inner, err := f.composition(parts, g, c, depth)
			if err != nil {
				return nil, err
			}
			out = append(out, inner...)
		}
		at = next
	}
	if depth == 0 {
		f.sizes(out)
	}
	return out, nil
}

// composition reads what a channel is made of: an array, which is set aside, or members, which are channels of their own.
func (f *file) composition(at int64, g *group, c *channel, depth int) ([]*channel, error) {
	id, _, _, err := f.head(at, "CA", "CN", "CL", "CV", "CU", "DS")
	if isDamage(err) {
		c.why = "of a composition that cannot be read (" + err.Error() + ")"
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	switch id {
	case "CN":
		if c.why == "" {
			c.why = "a structure; its members are read as channels"
		}
		return f.channels(at, g, c.name, depth+1)
	case "CA":
		c.why = "an array" + f.shape(at)
	default:
		c.why = fmt.Sprintf("of a composition ##%s that is not known", id)
	}
	return nil, nil
}

// shape describes an array's sizes.
func (f *file) shape(at int64) string {
	b, err := f.block(at, 1, 16, "CA")
	if err != nil {
		return ""
	}
	dims := int(le.Uint16(b.data[2:]))
	var s []string
	for i := range dims {
		if i == 8 || 16+8*i+8 > len(b.data) {
			break
		}
		s = append(s, fmt.Sprint(le.Uint64(b.data[16+8*i:])))
	}
	return " of " + strings.Join(s, " × ")
}

func (f *file) channel(at int64, g *group, within string) (*channel, int64, int64, error) {
	if err := f.once("CN", at); err != nil {
		return nil, 0, 0, err
	}
	b, err := f.block(at, 8, 72, "CN")
	if err != nil {
		return nil, 0, 0, err
	}
	d := b.data
	c := &channel{at: at, kind: d[0], sync: d[1], typ: d[2], shift: d[3], offset: le.Uint32(d[4:]), bits: le.Uint32(d[8:]), flags: le.Uint32(d[12:]), validBit: le.Uint32(d[16:]), data: b.links[5]}
	if c.name, err = f.label(b.links[2], "name", fmt.Sprintf("channel at offset %d", at)); err != nil {
		return nil, 0, 0, err
	}
	if c.name == "" {
		c.name = fmt.Sprintf("channel at offset %d", at)
	}
	if within != "" && !strings.HasPrefix(c.name, within+".") {
		c.name = within + "." + c.name
	}
	if c.unit, err = f.label(b.links[6], "unit", c.name); err != nil {
		return nil, 0, 0, err
	}
	if c.comment, err = f.label(b.links[7], "comment", c.name); err != nil {
		return nil, 0, 0, err
	}
	c.why = c.layout(g)
	if err := f.convert(b.links[4], c); err != nil {
		return nil, 0, 0, err
	}
	return c, b.links[1], b.links[0], nil
}

// sizes finds the channels that say how much of others is filled.
func (f *file) sizes(all []*channel) {
	for _, c := range all {
		if c.kind != limitedLength || c.why != "" {
			continue
		}
		for _, s := range all {
			if s.at == c.data && !s.text() && s.kind == fixedLength && s.why == "" {
				c.size = s
			}
		}
		if c.size == nil {
			c.why = "a text whose length is in a channel that cannot be found"
		}
	}
}

// layout works out where the channel's bits are, and says why they cannot be read.
func (c *channel) layout(g *group) string {
	switch {
	case c.kind > virtualData:
		return fmt.Sprintf("of kind %d, which is not known", c.kind)
	case typeNames[c.typ] != "":
		return typeNames[c.typ]
	case c.typ > 16:
		return fmt.Sprintf("of data type %d, which is not known", c.typ)
	case c.virtual() && !c.text():
		return ""
	case c.text():
		return c.textLayout(g)
	case c.kind == anyLength || c.kind == limitedLength:
		return "a number of any length"
	case c.bits == 0 || c.bits > 64 || c.shift > 7 || c.float() && c.bits != 16 && c.bits != 32 && c.bits != 64:
		return fmt.Sprintf("of %d bits from bit %d, which its data type %d does not allow", c.bits, c.shift, c.typ)
	}
	c.field = newField(c.typ, c.offset, c.shift, c.bits)
	return c.fits(g, c.field.bytes)
}

func (c *channel) textLayout(g *group) string {
	switch {
	case c.kind == anyLength:
		if c.bits == 0 || c.bits > 64 || c.bits%8 != 0 || c.shift != 0 {
			return fmt.Sprintf("a text whose offset has %d bits from bit %d", c.bits, c.shift)
		}
		c.field = newField(0, c.offset, 0, c.bits)
		return c.fits(g, c.field.bytes)
	case c.virtual() || c.bits%8 != 0 || c.shift != 0 || c.bits == 0:
		return fmt.Sprintf("a text of %d bits from bit %d", c.bits, c.shift)
	}
	return c.fits(g, int(c.bits/8))
}

func (c *channel) fits(g *group, bytes int) string {
	if int64(c.offset)+int64(bytes) > int64(g.dataBytes) {
		return fmt.Sprintf("at bytes %d to %d of a record of %d", c.offset, int64(c.offset)+int64(bytes), g.dataBytes)
	}
	if c.flags&hasInvalid != 0 && int64(c.validBit) >= int64(g.validBytes)*8 {
		return fmt.Sprintf("marked valid by bit %d of %d", c.validBit, g.validBytes*8)
	}
	return ""
}
