package lake

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"
	"time"

	"dynolake/schema"
)

// saving is one commit under way.
type saving struct {
	*saver
	lake      *Lake
	commit    commit
	moment    moment
	runs      []Entry   // New or changed.
	loose     []Refusal // New or changed.
	gone      map[string]bool
	facts     map[string]ownerFact // What the catalogue is to keep of each owner.
	written   []fileFact
	blobs     map[string]Blob
	rewritten bool            // A run is stored anew under the fingerprint that it had.
	damaged   map[string]bool // Files that cannot be read; every owner of theirs is in gone.
}

// Commit stores a batch: each run whole, all of it or nothing. What is stored already with the same fingerprint is left as
// it is, so that a second commit of the same content changes nothing. After an error the lake is as it was before, and
// the same commit can be tried again. Only an error from the very last step, the catalogue's own transaction, may mean
// that the batch is stored after all; trying again is right then too.
func (w *Writer) Commit(ctx context.Context, b Batch) error {
	w.commits.Lock()
	defer w.commits.Unlock()
	s, err := w.begin(ctx, b)
	if err != nil || s == nil {
		return err
	}
	return s.store(ctx, s.plan)
}

// store numbers the commit, writes the files that plan says and makes it visible.
func (s *saving) store(ctx context.Context, plan func(context.Context) ([]planned, error)) error {
	if err := s.number(ctx); err != nil {
		return fmt.Errorf("commit: %w", err)
	}
	files, err := plan(ctx)
	if err == nil {
		err = s.write(ctx, files)
	}
	if err != nil {
		return fmt.Errorf("commit: %w", s.Undo(err))
	}
	if err := s.record(ctx); err != nil {
		return fmt.Errorf("commit: %w", err)
	}
	return nil
}

// begin checks a batch and leaves what is stored already out of it. It gives nil when nothing is left.
func (w *Writer) begin(ctx context.Context, b Batch) (*saving, error) {
	l := w.lake
	s := &saving{saver: l.saver(), lake: l, gone: map[string]bool{}, facts: map[string]ownerFact{}, blobs: map[string]Blob{}}
	for _, e := range byID(b.Runs) {
		if err := Check(e.RunData); err != nil {
			return nil, err
		}
		if _, twice := s.facts[e.Run.ID]; twice {
			return nil, &CheckError{RunID: e.Run.ID, What: "it is twice in one commit"}
		}
		was, stored, err := l.stored(ctx, `SELECT fingerprint FROM runs WHERE run_id = ?`, e.Run.ID)
		if err != nil {
			return nil, err
		}
		if stored && was == e.Fingerprint {
			if !b.Replace && !e.Anew {
				continue
			}
			s.rewritten = true
		}
		e.Depends = strings.ToValidUTF8(e.Depends, "\uFFFD")
		e.Findings = append(slices.Clip(e.Findings), roundings(e.RunData)...)
		s.runs = append(s.runs, e)
		s.facts[e.Run.ID] = ownerFact{Fingerprint: e.Fingerprint, Depends: e.Depends, Blobs: e.blobs(), Parts: e.parts()}
		s.gone[e.Run.ID] = stored
	}
	retired, err := s.retire(ctx, b.Retire)
	if err != nil {
		return nil, err
	}
	if err := s.refuse(ctx, b.Loose); err != nil {
		return nil, err
	}
	if len(s.runs) == 0 && len(s.loose) == 0 && !retired {
		return nil, nil
	}
	for _, f := range s.facts {
		for _, sha := range f.Blobs {
			blob, err := w.blob(ctx, sha)
			if err != nil {
				return nil, err
			}
			s.blobs[sha] = blob
		}
	}
	return s, nil
}

// retire marks the runs that are to go and reports whether one of them is there.
func (s *saving) retire(ctx context.Context, ids []string) (found bool, err error) {
	for _, id := range ids {
		if _, kept := s.facts[id]; kept {
			return found, &CheckError{RunID: id, What: "it is to be retired in the same commit"}
		}
		_, stored, err := s.lake.stored(ctx, `SELECT fingerprint FROM runs WHERE run_id = ?`, id)
		if err != nil {
			return found, err
		}
		s.gone[id] = stored // One that waits to be made again waits no longer.
		found = found || stored
	}
	return found, nil
}

// refuse takes in the refusals that say something new and drops those whose bytes became a run.
func (s *saving) refuse(ctx context.Context, loose []Refusal) error {
	const digest = `SELECT digest FROM refusals WHERE sha256 = ?`
	kept := map[string]bool{}
	for _, r := range mergeRefusals(loose) {
		if !sha256Form.MatchString(r.SHA256) {
			return fmt.Errorf("commit: a refused source has SHA-256 %q, want 64 hex digits", r.SHA256)
		}
		kept[r.SHA256] = true
		old, stored, err := s.lake.stored(ctx, digest, r.SHA256)
		if err != nil {
			return err
		}
		if len(r.Findings) == 0 || stored && old == r.digest() {
			continue
		}
		s.loose = append(s.loose, r)
		s.facts[r.SHA256] = ownerFact{Digest: r.digest(), Blobs: []string{r.SHA256}}
		s.gone[r.SHA256] = stored
	}
	for _, e := range s.runs {
		for _, sha := range e.blobs() {
			_, stored, err := s.lake.stored(ctx, digest, sha)
			if err != nil {
				return err
			}
			if stored && !kept[sha] && !slices.Contains(e.Shared, sha) {
				s.gone[sha] = true
			}
		}
	}
	return nil
}

// stored looks a text of an owner up in the catalogue.
func (l *Lake) stored(ctx context.Context, statement, owner string) (text string, there bool, err error) {
	err = l.db.QueryRowContext(ctx, statement, owner).Scan(&text)
	if errors.Is(err, sql.ErrNoRows) {
		return "", false, nil
	}
	if err != nil {
		return "", false, fmt.Errorf("read the catalogue: %w", err)
	}
	return text, true, nil
}

// number names the commit after the newest one.
func (s *saving) number(ctx context.Context) error {
	err := s.lake.db.QueryRowContext(ctx, `SELECT id + 1, name FROM snapshots ORDER BY id DESC LIMIT 1`).Scan(&s.commit.Number, &s.commit.Parent)
	if err != nil {
		return fmt.Errorf("read the catalogue: %w", err)
	}
	s.moment = s.lake.moment()
	s.commit.Name, s.commit.At = token(), time.UnixMicro(s.moment.wall).UTC()
	if rival := s.lake.attempted(s.commit.Number); !rival.Before(s.commit.At) {
		s.commit.At = rival.Add(time.Second).UTC() // A rebuild takes the later of two for the one that took place.
	}
	return nil
}

// plan lists all files of the commit: samples, files that lose a replaced run, then the small tables with runs last.
func (s *saving) plan(ctx context.Context) ([]planned, error) {
	var plan []planned
	data := make([]schema.RunData, len(s.runs))
	for i, e := range s.runs {
		data[i] = e.RunData
		data[i].Run.Rows = int64(e.Frame.Len())
		sheet := samplesSheet(e.Run.ID, e.Frame)
		plan = append(plan, planned{table: "samples", path: s.samplesPath(e.Run), month: month(e.Run), rows: int64(sheet.rows),
			owners: map[string]int64{e.Run.ID: int64(sheet.rows)}, sheet: sheet})
	}
	rewrites, err := s.rewrites(ctx)
	if err != nil {
		return nil, err
	}
	plan = append(plan, rewrites...)
	for _, sheet := range smallSheets(data, s.loose, s.commit.At) {
		plan = append(plan, planned{table: sheet.table.Name, path: s.smallPath(sheet.table.Name), rows: int64(sheet.rows), owners: sheet.owners(), sheet: sheet})
	}
	if !slices.ContainsFunc(plan, func(p planned) bool { return p.table != "samples" }) {
		plan = append(plan, planned{table: "findings", path: s.smallPath("findings"), sheet: newSheet("findings", nil)}) // It says what the commit takes away.
	}
	return plan, nil
}

// write saves the files of a commit.
func (s *saving) write(ctx context.Context, plan []planned) error {
	for _, p := range plan {
		s.commit.Files = append(s.commit.Files, fileFact{Path: p.path})
	}
	for i, p := range plan {
		if err := ctx.Err(); err != nil {
			return err
		}
		f, err := s.put(ctx, p)
		if err != nil {
			return err
		}
		s.written = append(s.written, f)
		s.commit.Files[i] = f
	}
	return s.Flush()
}

// planned is a file that the commit is to write.
type planned struct {
	table  string
	path   string
	month  string
	rows   int64
	owners map[string]int64
	facts  map[string]ownerFact // Of owners that are carried over.
	sheet  writable
	large  bool // One of few, so that a file of samples too says what its commit is.
}

// writable is what put can save: rows of this commit, or an older file's without some.
type writable interface {
	save(ctx context.Context, w io.Writer, f footer) error
}

func (s sheet) save(_ context.Context, w io.Writer, f footer) error {
	meta, err := f.metadata(s.columns)
	if err != nil {
		return err
	}
	return s.Write(w, meta)
}

func (s *saving) put(ctx context.Context, p planned) (fileFact, error) {
	f := footer{Table: p.table, Commit: s.commit}
	if p.table == "samples" && !p.large {
		f.Commit.Files, f.Commit.Replaces = nil, nil // A lake has many of them; the small files say it.
	}
	for _, owner := range slices.Sorted(keys(p.owners)) {
		fact := ownerFact{}
		if kept, ok := p.facts[owner]; ok {
			fact = kept
		} else if p.table == "runs" || p.table == "findings" && sha256Form.MatchString(owner) {
			fact = s.facts[owner]
		}
		fact.Owner, fact.Rows = owner, p.owners[owner]
		f.Owners = append(f.Owners, fact)
	}
	out, err := s.Save(path.Dir(p.path), func(w io.Writer) error { return p.sheet.save(ctx, w, f) }, func(stored) (string, error) { return p.path, nil })
	if err != nil {
		return fileFact{}, err
	}
	return fileFact{Path: p.path, SHA256: out.SHA256, Bytes: out.Bytes, Rows: p.rows, Table: p.table, Month: p.month, Owners: p.owners}, nil
}

// record makes the commit visible: one transaction of the catalogue.
func (s *saving) record(ctx context.Context) error {
	if held := s.lake.held.Load(); held != nil {
		if err := held.still(); err != nil {
			return s.Undo(err)
		}
	}
	tx, err := s.lake.db.BeginTx(ctx, nil)
	if err != nil {
		return s.Undo(fmt.Errorf("write the catalogue: %w", err))
	}
	if err := s.enter(ctx, tx); err != nil {
		return s.Undo(errors.Join(fmt.Errorf("write the catalogue: %w", err), tx.Rollback()))
	}
	if err := s.disk.Commit(tx); err != nil {
		_ = tx.Rollback() // It may be stored after all, so that the files stay; the next writer sweeps them if it is not.
		return fmt.Errorf("write the catalogue: %w", err)
	}
	return nil
}
