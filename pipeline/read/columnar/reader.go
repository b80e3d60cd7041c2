package columnar

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"

	"dynolake/schema"
)

// Reader reads Parquet and Arrow. Its zero value is ready.
type Reader struct{}

var _ schema.Reader = Reader{}
var _ schema.Random = Reader{}

// Form is the name of the form.
func (Reader) Form() string { return "columnar" }

// Random says that a file is read in any order.
func (Reader) Random() {}

// layout of a file: how its records are coded.
type layout int

const (
	none layout = iota
	parquetFile
	arrowFile
	arrowStream
)

func layoutOf(head []byte) layout {
	switch {
	case bytes.HasPrefix(head, []byte("PAR1")):
		return parquetFile
	case bytes.HasPrefix(head, []byte("ARROW1\x00\x00")):
		return arrowFile
	case len(head) >= 16 && bytes.HasPrefix(head, []byte("\xff\xff\xff\xff")) && head[7] == 0 && head[4]&7 == 0:
		return arrowStream
	}
	return none
}

// Probe looks for the magic bytes; a stream has none but its first message's mark and length.
func (Reader) Probe(head []byte) schema.Fit {
	switch layoutOf(head) {
	case parquetFile:
		return schema.Fit{Score: 100, Why: "a Parquet file (magic PAR1)"}
	case arrowFile:
		return schema.Fit{Score: 100, Why: "an Arrow IPC file (magic ARROW1)"}
	case arrowStream:
		return schema.Fit{Score: 95, Why: "an Arrow IPC stream (FF FF FF FF and a message's length)"}
	}
	return schema.Fit{Why: "neither Parquet (magic PAR1) nor Arrow IPC (magic ARROW1, or a stream's FF FF FF FF)"}
}

// Read streams the source into the sink, as schema.Reader has it.
func (Reader) Read(ctx context.Context, src schema.Source, sink schema.Sink) (err error) {
	if err := ctx.Err(); err != nil {
		return err
	}
	at, size, err := src.OpenAt()
	if err != nil {
		return fmt.Errorf("open %s: %w", src.Name, err)
	}
	defer func() {
		if e := at.Close(); err == nil && e != nil {
			err = fmt.Errorf("close %s: %w", src.Name, e)
		}
	}()
	defer func() { // The decoders panic on some damage.
		if p := recover(); p != nil {
			err = fmt.Errorf("%s: decode: %v: the file is damaged", src.Name, p)
		}
	}()
	head := make([]byte, 16)
	n, err := at.ReadAt(head, 0)
	if err != nil && !errors.Is(err, io.EOF) {
		return fmt.Errorf("read %s: %w", src.Name, err)
	}
	from, err := open(ctx, layoutOf(head[:n]), watched{at: at, ctx: ctx}, size)
	if err != nil {
		return fmt.Errorf("%s: %w", src.Name, err)
	}
	r := &run{ctx: ctx, name: src.Name, sink: sink, from: from}
	err = r.all()
	from.close()
	return err
}

// watched ends reading when the context does.
type watched struct {
	at  io.ReaderAt
	ctx context.Context
}

func (w watched) ReadAt(p []byte, off int64) (int, error) {
	if err := w.ctx.Err(); err != nil {
		return 0, err
	}
	return w.at.ReadAt(p, off)
}
