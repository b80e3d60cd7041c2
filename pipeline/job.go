package pipeline

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"dynolake/pipeline/lake"
	"dynolake/pipeline/read"
	"dynolake/pipeline/read/canlog"
	"dynolake/pipeline/sheet"
	"dynolake/schema"
)

// job is the sources that form one recording and what is stated of it.
type job struct {
	members  []member
	paths    []string // Of the members, empty when the archive alone has their bytes.
	sheet    schema.Sheet
	sheeted  bool
	from     string           // The sheet's path.
	rank     int              // How near its run sheet is to the log, 0 nearest; -1 without one.
	findings []schema.Finding // About the sheet.
	group    *group           // Jobs that land together with it; nil when it stands alone.
	stale    []recording      // What the lake holds of the recording and the recording no longer has.
	anew     bool             // The archive has lost its bytes: they are stored again, and the run with them.

	held map[string][]byte // Bytes of small files that were archived just now, by SHA-256: they need not be unpacked to be read.
}

// heldWhole is how large a file is held in memory at the most between archiving and reading it.
const heldWhole = 8 << 20

func (j *job) names() string {
	list := make([]string, len(j.members))
	for i, m := range j.members {
		list[i] = m.Source
	}
	return strings.Join(list, ", ")
}

// bytes is the size of all members.
func (j *job) bytes() int64 {
	n := int64(0)
	for _, m := range j.members {
		n += max(m.Bytes, m.Unpacked)
	}
	return n
}

// sort brings the members into the order of their bytes and drops those that are there twice.
func (j *job) sort() {
	order := make([]int, len(j.members))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return strings.Compare(j.members[a].key(), j.members[b].key())
	})
	var members []member
	var paths []string
	for _, i := range order {
		m := j.members[i]
		if n := len(members); n > 0 && members[n-1].key() == m.key() {
			j.findings = append(j.findings, remark(schema.Note, "same_bytes", 0, "", "%s holds the same bytes as %s: read once", m.Source, members[n-1].Source))
			continue
		}
		members, paths = append(members, m), append(paths, j.paths[i])
	}
	j.members, j.paths = members, paths
}

// newJob hashes a spec's files and what they pack. An error is one of reading them.
func (in *ingest) newJob(ctx context.Context, spec sheet.Spec, fill schema.Sheet) (*job, error) {
	j := &job{sheet: sheet.Fill(spec.Sheet, fill), findings: spec.Findings, rank: spec.Rank, from: spec.From}
	j.sheeted = !state(j.sheet).empty()
	for _, f := range spec.Files {
		members, err := in.shelf.members(ctx, f)
		if err != nil {
			return j, fmt.Errorf("read %s: %w", f.Name, err)
		}
		for _, m := range members {
			in.keys[f.Path] = append(in.keys[f.Path], m.key(), m.book())
			j.members, j.paths = append(j.members, m), append(j.paths, f.Path)
		}
	}
	j.sort()
	return j, nil
}

func hash(ctx context.Context, path string) (string, int64, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", 0, err
	}
	h := sha256.New()
	n, err := io.Copy(h, stoppable{ctx, f})
	return hex.EncodeToString(h.Sum(nil)), n, errors.Join(err, f.Close())
}

// stoppable ends a copy when the context does.
type stoppable struct {
	ctx context.Context
	r   io.Reader
}

func (s stoppable) Read(p []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.r.Read(p)
}

// archive stores the members' bytes. A file that changed since it was hashed is refused: it is still being written.
func (j *job) archive(ctx context.Context, w *lake.Writer) error {
	j.held = map[string][]byte{}
	for i, path := range j.paths {
		if slices.Contains(j.paths[:i], path) {
			continue // Members of one archive.
		}
		blob, data, err := store(ctx, w, path)
		if err != nil {
			return err
		}
		if data != nil {
			j.held[blob.SHA256] = data
		}
		if blob.SHA256 != j.members[i].SHA256 {
			return fmt.Errorf("read %s: %w", j.members[i].Source, errChanging)
		}
	}
	return j.archiveDatabases(ctx, w)
}

// store archives a file, and gives the bytes of a small one, which are those that the archive has.
func store(ctx context.Context, w *lake.Writer, path string) (b lake.Blob, data []byte, err error) {
	f, err := os.Open(path)
	if err != nil {
		return b, nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	info, err := f.Stat()
	if err != nil {
		return b, nil, err
	}
	if info.Size() > heldWhole {
		b, err = w.Archive(ctx, f)
		return b, nil, err
	}
	room := bytes.NewBuffer(make([]byte, 0, info.Size()+bytes.MinRead))
	if _, err := room.ReadFrom(io.LimitReader(stoppable{ctx, f}, heldWhole+1)); err != nil {
		return b, nil, err
	}
	if room.Len() > heldWhole { // It has grown.
		b, err = w.Archive(ctx, io.MultiReader(room, f))
		return b, nil, err
	}
	b, err = w.Archive(ctx, bytes.NewReader(room.Bytes()))
	return b, room.Bytes(), err
}

// inMemory is a file's bytes, opened.
type inMemory struct{ *bytes.Reader }

func (inMemory) Close() error { return nil }

// errChanging says that a log is still being written.
var errChanging = errors.New("it changed while it was read: try again when it is complete")

// refused is a source that cannot be read, with the findings that say why.
type refused struct {
	member
	findings []schema.Finding
}

// read gives the logs of the job's sources from the archive, part by part, and the sources that cannot be read. The error is
// a *lostError when the archive has lost one: nothing can be said of it then.
func (j *job) read(ctx context.Context, s *shelf, l *lake.Lake) (parts [][]schema.Log, bad []refused, err error) {
	defer func() { j.held = nil }()
	for _, m := range j.members {
		w := watch{open: func() (io.ReadCloser, error) { return l.OpenArchive(m.SHA256) }}
		if data, ok := j.held[m.SHA256]; ok {
			w.open = func() (io.ReadCloser, error) { return inMemory{bytes.NewReader(data)}, nil }
		}
		own, err := s.logs(ctx, m, w.Open)
		switch {
		case ctx.Err() != nil:
			return nil, nil, ctx.Err()
		case w.lost != nil:
			return nil, nil, &lostError{m.Source, w.lost}
		case errors.Is(err, lake.ErrArchive): // Of a database beside it.
			return nil, nil, &lostError{m.Source, err}
		}
		if err != nil {
			f := remark(schema.Rejected, "unreadable", 0, "", "%v", err)
			f.Source = m.Source
			bad = append(bad, refused{m, []schema.Finding{f}})
			continue
		}
		for i, logs := range own {
			if i == len(parts) {
				parts = append(parts, nil)
			}
			parts[i] = append(parts[i], logs...)
		}
	}
	return parts, bad, nil
}

// readOne reads a source of one form. A CAN log is read with the member's databases.
func (s *shelf) readOne(ctx context.Context, m member, src schema.Source) ([]schema.Log, error) {
	r, err := read.Detect(ctx, src)
	if err != nil {
		return nil, err
	}
	var found []schema.Finding
	if can, ok := r.(canlog.Reader); ok {
		if can.Databases, found, err = s.decoder(m); err != nil {
			return nil, err
		}
		r = can
	}
	logs, err := read.Collect(ctx, r, src)
	if err == nil && len(logs) > 0 {
		logs[0].Findings = append(logs[0].Findings, found...)
	}
	return logs, err
}
