package pipeline

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"runtime"
	"runtime/debug"
	"slices"
	"sync"
	"time"

	"dynolake/pipeline/lake"
	"dynolake/pipeline/sheet"
	"dynolake/schema"

	"golang.org/x/sync/errgroup"
)

const (
	// perByte is how many bytes of memory a byte of log takes at the most while its run is made (measured: about 4.5).
	perByte = 6
)

// commitEvery is how much work a commit holds at most, so that an interrupt loses little and a year is no heap of tiny files.
const commitEvery = 2 * time.Second

// remakeEvery is the same where runs that are there are replaced: each such commit writes every large file anew that holds one of them.
const remakeEvery = 30 * time.Second

// Options of an ingest.
type Options struct {
	Fill     *schema.Sheet         // What stands in for a missing or silent run sheet; nil for nothing.
	Progress func(done, total int) // Called after each job; may be nil.

	Memory int64         // Bytes that jobs under way and runs that wait to be committed may take; one log that needs more goes alone. 0: 2 GiB.
	Gap    time.Duration // TakeIn: between the two looks at a file that tell whether it is still being written; 0: a second.
}

// Outcome is what became of one run, or of one input that became none.
type Outcome struct {
	Status string // stored, remade, unchanged, retired or set aside.
	RunID  string
	Source string // Its logs, joined by a comma.
	Run    schema.Run
	Doubts int    // Findings that are no mere notes.
	Reason string // Why it was made again or set aside.
}

// Result is what an ingest did.
type Result struct {
	Outcomes []Outcome
	Rows     int64
	Bytes    int64 // Of the logs that were read.

	refused map[string]string // Why sources gave no rows, by member key.
}

// refuse notes why a source gave no rows.
func (r *Result) refuse(key, why string) {
	if r.refused == nil {
		r.refused = map[string]string{}
	}
	r.refused[key] = why
}

// Count tells how many outcomes have a status.
func (r Result) Count(status string) int {
	n := 0
	for _, o := range r.Outcomes {
		if o.Status == status {
			n++
		}
	}
	return n
}

// ingest is one writing of runs.
type ingest struct {
	lake   *lake.Lake
	writer *lake.Writer
	recipe *Recipe
	opts   Options
	known  map[string]lake.Known
	briefs map[string]depends // Of known, as far as they were asked for.
	force  bool               // Make runs again even where nothing changed.

	storing sync.Mutex // Held by who stores a batch; taken with mu held, which is then given back.
	mu      sync.Mutex
	batch   lake.Batch
	held    int64 // Bytes that the batch's runs take, about.
	pace    pace
	remakes bool // The batch replaces runs that are there.
	since   time.Time
	pending Result // Of what the batch holds.
	result  Result // Of what is committed.
	done    int
	jobs    int
	archive sync.Mutex
	shelf   shelf
	packed  map[string][]schema.Finding // What is to be said of archives, by their SHA-256.
	keys    map[string][]string         // Of the sources in each file, by its path.
	sheets  map[string]string           // SHA-256 of the run sheets that are archived, by their path.
}

// Ingest takes files and folders into the lake: archived, converted, derived, committed. What is there already with the same
// configuration changes nothing; runs that depend on an entry that was edited are made again. A source that cannot be used is
// set aside, and its neighbours land. On an error the runs committed before it stay.
func Ingest(ctx context.Context, l *lake.Lake, w *lake.Writer, r *Recipe, paths []string, opts Options) (Result, error) {
	in, err := newIngest(ctx, l, w, r, opts)
	if err != nil {
		return Result{}, err
	}
	found, err := sheet.Find(ctx, paths, sheet.Options{Lake: lake.Is, Owns: lake.Owns})
	if err != nil {
		return Result{}, err
	}
	err = in.all(ctx, found, nil)
	return in.result, err
}

// all brings what was found into the lake, with jobs of other origin and the stored runs that an edit has touched.
func (in *ingest) all(ctx context.Context, found sheet.Found, more []*job) error {
	parted, err := in.shelf.part(ctx, found.Runs)
	if err != nil {
		return err
	}
	found.Runs, found.Refused, found.Findings = parted.Runs, append(found.Refused, parted.Refused...), append(found.Findings, parted.Findings...)
	if err := in.setAside(ctx, found); err != nil {
		return err
	}
	jobs, err := in.collect(ctx, found.Runs)
	if err != nil {
		return err
	}
	jobs = append(jobs, apart(more, jobs)...)
	again, err := in.edited(jobs)
	if err != nil {
		return err
	}
	return in.run(ctx, append(jobs, again...))
}

func newIngest(ctx context.Context, l *lake.Lake, w *lake.Writer, r *Recipe, opts Options) (*ingest, error) {
	known, err := l.Runs(ctx)
	if err != nil {
		return nil, err
	}
	return &ingest{lake: l, writer: w, recipe: r, opts: opts, known: known, briefs: map[string]depends{}, since: time.Now(), packed: map[string][]schema.Finding{}, keys: map[string][]string{},
		shelf: shelf{can: r.can, blob: l.OpenArchive}}, nil
}

// collect hashes the files of every spec and leaves each source to one job.
func (in *ingest) collect(ctx context.Context, specs []sheet.Spec) ([]*job, error) {
	var jobs []*job
	fill := sheet.Empty()
	if in.opts.Fill != nil {
		fill = *in.opts.Fill
	}
	for _, spec := range specs {
		j, err := in.newJob(ctx, spec, fill)
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if err != nil {
			in.result.Outcomes = append(in.result.Outcomes, Outcome{Status: "set aside", Source: spec.Files[0].Name, Reason: err.Error()})
			continue
		}
		jobs = append(jobs, j)
	}
	stored, err := in.recordings()
	if err != nil {
		return nil, err
	}
	if err := in.findHeads(ctx, jobs, stored); err != nil {
		return nil, err
	}
	return in.settle(disjoin(jobs), stored), nil
}

// run makes the jobs in parallel and commits as it goes.
func (in *ingest) run(ctx context.Context, jobs []*job) error {
	in.jobs = len(jobs)
	defer debug.SetGCPercent(debug.SetGCPercent(paceLeast)) // As the room's pace says while jobs are under way.
	work, within := errgroup.WithContext(ctx)
	work.SetLimit(runtime.NumCPU())
	room := newRoom(in.memory(), &in.pace)
	for _, j := range jobs {
		work.Go(func() error {
			return room.work(within, perByte*j.bytes(), func() error { return in.make(within, j) })
		})
	}
	if err := work.Wait(); err != nil {
		return err
	}
	in.mu.Lock()
	for _, sha := range slices.Sorted(maps.Keys(in.packed)) {
		in.batch.Loose = append(in.batch.Loose, lake.Refusal{SHA256: sha, Findings: in.packed[sha]})
	}
	return in.commit(ctx)
}

// make brings one job into the batch, unless the lake has it as it would be made today.
func (in *ingest) make(ctx context.Context, j *job) error {
	defer in.step()
	same, err := in.unchanged(ctx, j)
	if err != nil {
		return err
	}
	if same {
		return in.land(ctx, j, nil, true)
	}
	if err := in.store(ctx, j); err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if errors.Is(err, errChanging) {
			in.tell(Outcome{Status: "set aside", Source: j.names(), Reason: err.Error()})
			return in.land(ctx, j, nil, false)
		}
		return fmt.Errorf("archive %s: %w", j.names(), err)
	}
	parts, bad, err := j.read(ctx, &in.shelf, in.lake)
	if lost := new(lostError); errors.As(err, &lost) {
		in.tell(Outcome{Status: "set aside", RunID: runID(j.members, 0), Source: j.names(), Reason: err.Error()})
		return in.land(ctx, j, nil, false)
	}
	if err != nil {
		return err
	}
	for _, b := range bad {
		in.refuse(b, len(parts) > 0)
	}
	var entries []lake.Entry
	for part, logs := range parts {
		if e, ok := in.part(j, part, logs, bad); ok {
			entries = append(entries, e)
		}
	}
	j.stale = in.stale(j, len(parts))
	return in.land(ctx, j, entries, false)
}

// store archives a job's bytes; one writer at a time.
func (in *ingest) store(ctx context.Context, j *job) error {
	in.archive.Lock()
	defer in.archive.Unlock()
	return j.archive(ctx, in.writer)
}

// part makes one part of a job a run.
func (in *ingest) part(j *job, part int, logs []schema.Log, bad []refused) (lake.Entry, bool) {
	id := runID(j.members, part)
	sh := j.sheet
	if part > 0 {
		sh.StartedAt = "" // It speaks of the recording's beginning.
	}
	dep := depends{Members: j.members, Part: part, Sheet: state(j.sheet), Sheeted: j.sheeted, CAN: isCAN(logs), Channels: headers(logs), AllMappings: "unknown"}.today(in.recipe)
	data, err := in.recipe.assemble(id, sh, logs)
	if err == nil {
		in.complete(&data, j, bad)
		err = lake.Check(data)
	}
	if err != nil {
		for _, m := range j.members {
			f := remark(schema.Rejected, "no_run", 0, "", "%v", err)
			f.Source = m.Source
			in.refuse(refused{m, append(own(data.Findings, m), f)}, false)
		}
		return lake.Entry{}, false
	}
	e := lake.Entry{RunData: data, Fingerprint: dep.fingerprint(), Depends: dep.text(), Anew: j.anew}
	for _, b := range bad {
		e.Blobs = append(e.Blobs, b.SHA256)
	}
	e.Blobs = append(e.Blobs, j.databases()...)
	if sha := in.sheets[j.from]; sha != "" {
		e.Blobs = append(e.Blobs, sha)
	}
	for _, m := range j.members {
		if m.In != "" {
			e.Shared = append(e.Shared, m.SHA256)
		}
	}
	return e, true
}

// own picks the findings about one source, as those of no run.
func own(found []schema.Finding, m member) []schema.Finding {
	var list []schema.Finding
	for _, f := range found {
		if m.holds(f.Source) {
			f.RunID = ""
			list = append(list, f)
		}
	}
	return list
}

// complete adds what is known of the sources' bytes and what the sheet and the refused sources gave rise to.
func (in *ingest) complete(data *schema.RunData, j *job, bad []refused) {
	for i := range data.Sources {
		for _, m := range j.members {
			if m.holds(data.Sources[i].Source) {
				data.Sources[i].SHA256, data.Sources[i].Bytes = m.SHA256, m.Bytes
			}
		}
	}
	extra := slices.Clone(j.findings)
	for _, b := range bad {
		extra = append(extra, b.findings...)
	}
	for _, f := range extra {
		f.RunID = data.Run.ID
		data.Findings = append(data.Findings, f)
	}
}

// setAside records what no run can be made of: the logs of a sheet's faulty entry keep their bytes and the reason, and are told beside the sheet.
func (in *ingest) setAside(ctx context.Context, found sheet.Found) error {
	for _, f := range found.Findings {
		in.result.Outcomes = append(in.result.Outcomes, Outcome{Status: "set aside", Source: f.Source, Reason: f.Text})
	}
	for _, spec := range found.Refused {
		j, err := in.newJob(ctx, spec, sheet.Empty())
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil || len(j.members) == 0 {
			continue // Its reason is told; there are no bytes to keep.
		}
		if err := j.archive(ctx, in.writer); err != nil {
			return fmt.Errorf("archive %s: %w", j.names(), err)
		}
		for _, m := range j.members {
			why := spec.Findings[len(spec.Findings)-1].Text
			in.batch.Loose = append(in.batch.Loose, lake.Refusal{SHA256: m.SHA256, Findings: spec.Findings})
			in.result.Outcomes = append(in.result.Outcomes, Outcome{Status: "set aside", Source: m.Source, Reason: why})
			in.pending.refuse(m.key(), why)
		}
	}
	return nil
}
