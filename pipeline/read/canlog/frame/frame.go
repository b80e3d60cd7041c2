package frame

import (
	"bytes"
	"errors"
	"fmt"
)

// MaxData is the most bytes that a CAN FD frame carries.
const MaxData = 64

// Frame is one line of a log. Bus points into the line: copy what is kept.
type Frame struct {
	Stamp    Stamp
	Bus      []byte
	ID       uint32 // 11 or 29 bits.
	Extended bool
	FD       bool
	Remote   bool
	Error    bool
	Len      int
	Bytes    [MaxData]byte
}

// Data is the frame's bytes; the slice is the frame's own.
func (f *Frame) Data() []byte { return f.Bytes[:f.Len] }

// The faults of a line. Parse wraps no more than one of them.
var (
	// ErrForm is returned for a line that is no candump line at all, or a cut one.
	ErrForm = errors.New("no candump line: expected (TIME) BUS ID#DATA or (TIME) BUS ID [LENGTH] DATA")
	// ErrLength is returned where the stated length and the bytes differ.
	ErrLength = errors.New("the stated length does not match the bytes")
)

// Parse reads one line, without its ending, into f.
func Parse(line []byte, f *Frame) error {
	*f = Frame{}
	c := cursor{b: bytes.TrimSpace(line)}
	if err := f.stamp(&c); err != nil {
		return err
	}
	f.Bus = c.word()
	if !busName(f.Bus) {
		return ErrForm
	}
	id := c.word()
	if hash := bytes.IndexByte(id, '#'); hash > 0 {
		if err := f.id(id[:hash]); err != nil {
			return err
		}
		return f.logForm(id[hash+1:], &c)
	}
	for direction(id) { // -x shows RX or TX and the frame's flags.
		id = c.word()
	}
	if err := f.id(id); err != nil {
		return err
	}
	return f.columns(&c)
}

func (f *Frame) stamp(c *cursor) error {
	if c.peek() != '(' {
		return nil
	}
	end := bytes.IndexByte(c.b, ')')
	if end < 0 {
		return ErrForm
	}
	var ok bool
	if f.Stamp, ok = parseStamp(c.b[1:end]); !ok {
		return fmt.Errorf("%w: time %q is neither seconds nor a date", ErrForm, clip(c.b[1:end]))
	}
	c.b = c.b[end+1:]
	return nil
}

// busName tells a network interface's name: a letter or digit and no bracket, hash or blank after it.
func busName(b []byte) bool {
	if len(b) == 0 || len(b) > 32 {
		return false
	}
	for _, c := range b {
		if (c < '0' || c > '9') && (c < 'A' || c > 'Z') && (c < 'a' || c > 'z') && c != '_' && c != '-' && c != '.' && c != ':' {
			return false
		}
	}
	return true
}

func direction(w []byte) bool {
	switch string(w) {
	case "RX", "TX", "-", "B", "E", "R", "T":
		return true
	}
	return false
}

// id reads 1 to 8 hex digits: three or fewer are an 11-bit id. The three bits above 29 flag error frames and their like.
func (f *Frame) id(b []byte) error {
	if len(b) == 0 || len(b) > 8 {
		return ErrForm
	}
	for _, c := range b {
		d, ok := digit(c)
		if !ok {
			return ErrForm
		}
		f.ID = f.ID<<4 | uint32(d)
	}
	f.Extended = len(b) > 3
	if f.ID&0x20000000 != 0 {
		f.Error = true
	}
	if f.ID > 0x3FFFFFFF || (!f.Extended && f.ID > 0x7FF) {
		return fmt.Errorf("%w: id %q has more bits than a CAN id", ErrForm, b)
	}
	f.ID &= 0x1FFFFFFF
	return nil
}

// logForm reads what stands behind ID#: data, R for a remote frame, # and a digit of flags for CAN FD.
func (f *Frame) logForm(b []byte, c *cursor) error {
	switch {
	case len(b) > 0 && b[0] == '#':
		if len(b) < 2 {
			return ErrForm
		}
		if _, ok := digit(b[1]); !ok {
			return ErrForm
		}
		f.FD = true
		b = b[2:]
	case len(b) > 0 && (b[0] == 'R' || b[0] == 'r'):
		f.Remote = true
		return nil
	}
	if i := bytes.IndexByte(b, '_'); i >= 0 { // A raw length code above 8, which changes no byte.
		b = b[:i]
	}
	most := 8
	if f.FD {
		most = MaxData
	}
	for len(b) > 0 {
		if b[0] == '.' {
			b = b[1:]
			continue
		}
		if len(b) < 2 || f.Len == most || !f.put(b[0], b[1]) {
			return fmt.Errorf("%w: data %q: expected at most %d bytes of two hex digits each", ErrForm, clip(b), most)
		}
		b = b[2:]
	}
	if rest := c.word(); len(rest) > 0 && !direction(rest) {
		return fmt.Errorf("%w: %q behind the data", ErrForm, clip(rest))
	}
	return nil
}

func (f *Frame) put(high, low byte) bool {
	h, ok1 := digit(high)
	l, ok2 := digit(low)
	if !ok1 || !ok2 {
		return false
	}
	f.Bytes[f.Len] = h<<4 | l
	f.Len++
	return true
}

// columns reads [LENGTH] and as many bytes.
func (f *Frame) columns(c *cursor) error {
	w := c.word()
	if len(w) < 3 || w[0] != '[' || w[len(w)-1] != ']' {
		return ErrForm
	}
	n, ok := decimal(w[1 : len(w)-1])
	if !ok || n > MaxData {
		return fmt.Errorf("%w: length %q", ErrForm, clip(w))
	}
	f.FD = n > 8 || len(w) > 3
	for {
		w = c.word()
		if len(w) != 2 || f.Len == MaxData || f.Len == n || !f.put(w[0], w[1]) {
			break
		}
	}
	return f.close(w, c, n)
}

// close checks what stands behind the bytes: nothing, the ASCII of -a, or a word on an error or remote frame.
func (f *Frame) close(w []byte, c *cursor, n int) error {
	switch {
	case string(w) == "ERRORFRAME":
		f.Error = true
		return nil
	case string(w) == "remote":
		f.Remote = true
		return nil
	case len(w) > 0 && w[0] != '\'' && !direction(w):
		if _, ok := digit(w[0]); !ok || f.Len != n {
			return fmt.Errorf("%w: %q among the bytes", ErrForm, clip(w))
		}
		return fmt.Errorf("%w: %d stated, more there", ErrLength, n)
	case f.Len != n:
		return fmt.Errorf("%w: %d stated, %d there", ErrLength, n, f.Len)
	}
	if bytes.Contains(c.b, []byte("ERRORFRAME")) {
		f.Error = true
	}
	return nil
}

func clip(b []byte) []byte { return b[:min(len(b), 40)] }

type cursor struct{ b []byte }

func (c *cursor) peek() byte {
	if len(c.b) == 0 {
		return 0
	}
	return c.b[0]
}

// word takes the next run of characters that are no blank.
func (c *cursor) word() []byte {
	i := 0
	for i < len(c.b) && (c.b[i] == ' ' || c.b[i] == '\t') {
		i++
	}
	j := i
	for j < len(c.b) && c.b[j] != ' ' && c.b[j] != '\t' {
		j++
	}
	w := c.b[i:j]
	c.b = c.b[j:]
	return w
}

func digit(c byte) (byte, bool) {
	switch {
	case c >= '0' && c <= '9':
		return c - '0', true
	case c >= 'A' && c <= 'F':
		return c - 'A' + 10, true
	case c >= 'a' && c <= 'f':
		return c - 'a' + 10, true
	}
	return 0, false
}

// decimal reads one or two digits.
func decimal(b []byte) (int, bool) {
	if len(b) == 0 || len(b) > 2 {
		return 0, false
	}
	n := 0
	for _, c := range b {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = n*10 + int(c-'0')
	}
	return n, true
}
