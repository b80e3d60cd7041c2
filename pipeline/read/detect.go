package read

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"dynolake/pipeline/read/canlog"
	"dynolake/pipeline/read/columnar"
	"dynolake/pipeline/read/delimited"
	"dynolake/pipeline/read/mdf4"
	"dynolake/schema"
)

// probeSize is how many bytes readers are shown.
const probeSize = 64 << 10

// Forms lists the registered readers. A new form is one line here.
func Forms() []schema.Reader {
	return []schema.Reader{
		columnar.Reader{},
		delimited.Reader{},
		canlog.Reader{},
		mdf4.Reader{},
	}
}

// ByForm finds a reader by its form's name, for an explicit choice.
func ByForm(name string) (schema.Reader, bool) {
	for _, r := range Forms() {
		if r.Form() == name {
			return r, true
		}
	}
	return nil, false
}

// Reason is why one form does not fit.
type Reason struct{ Form, Why string }

// NoFormError says that no reader fits a source. Detect returns it.
type NoFormError struct {
	Source  string
	Looks   string // What the first bytes look like, empty when they tell nothing.
	Reasons []Reason
}

// Error names the source, what it looks like and each form's reason.
func (e *NoFormError) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: no reader fits", e.Source)
	if e.Looks != "" {
		fmt.Fprintf(&b, ": it looks like %s", e.Looks)
	}
	for _, r := range e.Reasons {
		fmt.Fprintf(&b, "; not %s: %s", r.Form, r.Why)
	}
	return b.String()
}

// Detect finds the registered reader that fits the source's first 64 KiB best. It returns a *NoFormError when none does.
func Detect(ctx context.Context, src schema.Source) (schema.Reader, error) {
	head, err := probe(ctx, src)
	if err != nil {
		return nil, err
	}
	return pick(src.Name, head, Forms())
}

func probe(ctx context.Context, src schema.Source) (head []byte, err error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	f, err := src.Open()
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", src.Name, err)
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	head = make([]byte, probeSize)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, fmt.Errorf("read %s: %w", src.Name, err)
	}
	return head[:n], nil
}

func pick(name string, head []byte, forms []schema.Reader) (schema.Reader, error) {
	none := &NoFormError{Source: name, Looks: Looks(head)}
	var best schema.Reader
	score := 0
	for _, r := range forms {
		fit := r.Probe(head)
		if fit.Score > score {
			best, score = r, fit.Score
		}
		if fit.Score <= 0 {
			none.Reasons = append(none.Reasons, Reason{r.Form(), fit.Why})
		}
	}
	if best == nil {
		return nil, none
	}
	return best, nil
}
