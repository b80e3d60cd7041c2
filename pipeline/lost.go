package pipeline

import (
	"errors"
	"io"

	"dynolake/pipeline/lake"
)

// lostError says that the archive does not give a source's bytes as they were stored.
type lostError struct {
	source string
	err    error
}

func (e *lostError) Error() string {
	return e.source + ": " + e.err.Error() + ": run dynolake verify --rebuild, then ingest the log again"
}

func (e *lostError) Unwrap() error { return e.err }

// watch opens archived bytes and notes when the archive is damaged, whatever a reader makes of that.
type watch struct {
	open func() (io.ReadCloser, error)
	lost error
}

func (w *watch) Open() (io.ReadCloser, error) {
	r, err := w.open()
	w.note(err)
	if err != nil {
		return nil, err
	}
	return watched{r, w}, nil
}

func (w *watch) note(err error) {
	if errors.Is(err, lake.ErrArchive) {
		w.lost = err
	}
}

type watched struct {
	io.ReadCloser
	by *watch
}

func (r watched) Read(p []byte) (int, error) {
	n, err := r.ReadCloser.Read(p)
	r.by.note(err)
	return n, err
}
