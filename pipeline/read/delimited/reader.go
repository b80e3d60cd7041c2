package delimited

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"

	"dynolake/schema"
)

const probeSize = 64 << 10

// Reader reads delimited text. Its zero value is ready; it holds no state between files.
type Reader struct{}

var _ schema.Reader = Reader{}

// Form is the name of the form.
func (Reader) Form() string { return "delimited" }

// Probe looks for a header row with a time channel, or for text that may hold one further on.
func (Reader) Probe(head []byte) schema.Fit {
	if len(bytes.TrimSpace(head)) == 0 {
		return schema.Fit{Why: "the file is empty"}
	}
	enc := sniff(head)
	if why := noText(head, enc); why != "" {
		return schema.Fit{Why: why}
	}
	all := len(head) < probeSize
	b := enc.decode(head)
	eol := ending(b)
	if i := bytes.LastIndexByte(b, eol); !all && i >= 0 {
		b = b[:i+1]
	}
	var seen search
	seen.text = true
	for at, line := 0, 1; at < len(b); {
		w := view(b[at:], eol, line, all)
		if p := w.find(newTally(""), nil, &seen); p != nil {
			return schema.Fit{Score: 70, Why: p.why}
		}
		n := nextLine(w, max(1, len(w.b)/2))
		if w.all || at+len(w.b) >= len(b) {
			break
		}
		at += n
	}
	if all {
		_, why := seen.reason()
		return schema.Fit{Why: why}
	}
	return schema.Fit{Score: 5, Why: "text without a table in its first 64 KiB"}
}

// Read streams the source into the sink, as schema.Reader has it.
func (Reader) Read(ctx context.Context, src schema.Source, sink schema.Sink) (err error) {
	f, err := src.Open()
	if err != nil {
		return fmt.Errorf("open %s: %w", src.Name, err)
	}
	defer func() {
		if e := f.Close(); err == nil && e != nil {
			err = fmt.Errorf("close %s: %w", src.Name, e)
		}
	}()
	head := make([]byte, probeSize)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return fmt.Errorf("read %s: %w", src.Name, err)
	}
	head = head[:n]
	if len(bytes.TrimSpace(head)) == 0 && n < probeSize {
		return (&search{}).fail(src.Name)
	}
	enc := sniff(head)
	if why := noText(head, enc); why != "" {
		return fmt.Errorf("%s:1:1: %s: expected delimited text", src.Name, why)
	}
	return read(ctx, src.Name, enc, head, f, sink)
}

func read(ctx context.Context, name string, enc encoding, head []byte, f io.Reader, sink schema.Sink) error {
	t := newTally(name)
	in := enc.reader(io.MultiReader(bytes.NewReader(head[enc.bom:]), f))
	r := &run{ctx: ctx, name: name, sink: sink, tally: t, texts: map[string]string{}}
	r.notes = notes{sink: sink, tally: t}
	r.scan = newScanner(in, ending(enc.decode(head)), func(line int) { t.add("line_too_long", line, nil) })
	if enc.name == "Windows-1252" {
		sink.Find(t.finding(schema.Note, "encoding_guessed", "", fmt.Sprintf("%s:1:1: the text is no UTF-8; it is read as Windows-1252", name), math.NaN(), ""))
	}
	return r.source(r.all())
}

// ending is the byte that ends lines: a carriage return only where there is no line feed.
func ending(head []byte) byte {
	if bytes.IndexByte(head, '\n') < 0 && bytes.IndexByte(head, '\r') >= 0 {
		return '\r'
	}
	return '\n'
}

// noText says why bytes are no text, empty when they may be. A recorder that loses power leaves NUL bytes at the end of a
// text, so only those in its first line count.
func noText(head []byte, enc encoding) string {
	if enc.wide {
		return ""
	}
	first := head[:min(len(head), 512)]
	if i := bytes.IndexAny(first, "\r\n"); i >= 0 {
		first = first[:i]
	}
	if i := bytes.IndexByte(first, 0); i >= 0 {
		return fmt.Sprintf("not text: a NUL byte at offset %d", i)
	}
	start := head[:min(len(head), 4096)]
	odd := 0
	for _, c := range start {
		if c != 0 && c < ' ' && c != '\t' && c != '\n' && c != '\r' && c != '\f' && c != 0x1a && c != 0x1b {
			odd++
		}
	}
	if odd*20 > len(start)-bytes.Count(start, []byte{0}) {
		return fmt.Sprintf("not text: %d control bytes in its first %d", odd, len(start))
	}
	return ""
}
