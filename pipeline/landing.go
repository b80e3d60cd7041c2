package pipeline

import (
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"dynolake/pipeline/lake"
	"dynolake/schema"
)

// land brings what a job gave into the batch, with all of its group's once the last of them is done, and commits when the
// batch holds enough work. there tells that the lake has the job's runs as they are.
func (in *ingest) land(ctx context.Context, j *job, entries []lake.Entry, there bool) error {
	in.mu.Lock()
	if !in.gather(j, entries, there) {
		in.mu.Unlock()
		return nil
	}
	return in.commit(ctx)
}

// gather brings what a job gave into the batch and reports whether that holds enough for a commit. The caller holds mu.
func (in *ingest) gather(j *job, entries []lake.Entry, there bool) bool {
	g := j.group
	if g == nil {
		g = &group{waiting: 1}
	}
	g.waiting--
	g.entries = append(g.entries, entries...)
	g.landed = g.landed || there || len(entries) > 0
	if len(entries) > 0 {
		g.retire = append(g.retire, j.stale...)
	}
	if g.waiting > 0 {
		return false
	}
	for _, e := range g.entries {
		in.take(e)
	}
	if g.landed {
		in.retire(g)
	}
	g.entries = nil
	every := commitEvery
	if in.remakes {
		every = remakeEvery
	}
	return time.Since(in.since) >= every || in.held >= in.memory()/heldShare
}

// heldShare is the part of the memory budget that runs may fill while they wait for a commit, as a divisor. As many may be in the commit before.
const heldShare = 16

// weight is how many bytes a run takes in memory, about: its rows and what was logged beside them.
func weight(e lake.Entry) int64 {
	n := int64(len(e.Frame.Names())) * int64(e.Frame.Len())
	for _, u := range e.Unmapped {
		n += int64(len(u.T) + len(u.Values))
	}
	return 8 * n
}

// take puts a run into the batch, unless the lake has it. The caller holds mu.
func (in *ingest) take(e lake.Entry) {
	was, there := in.known[e.Run.ID]
	in.pending.Rows += e.Run.Rows
	for _, s := range e.Sources {
		in.pending.Bytes += s.Bytes
	}
	in.report(e, was, there)
	if !there || was.Fingerprint != e.Fingerprint || in.force || e.Anew {
		in.batch.Runs = append(in.batch.Runs, e)
		in.held += weight(e)
		in.pace.take(weight(e))
		in.remakes = in.remakes || there
	}
}

// retire takes out the runs whose sources are other runs' now. The caller holds mu.
func (in *ingest) retire(g *group) {
	for _, r := range g.retire {
		in.batch.Retire = append(in.batch.Retire, r.ids...)
		for _, id := range r.ids {
			in.pending.Outcomes = append(in.pending.Outcomes, Outcome{Status: "retired", RunID: id, Source: r.names(), Reason: r.why})
		}
	}
}

// report notes what became of a run. The caller holds mu.
func (in *ingest) report(e lake.Entry, was lake.Known, there bool) {
	o := Outcome{Status: "stored", RunID: e.Run.ID, Run: e.Run}
	var names []string
	for _, s := range e.Sources {
		names = append(names, s.Source)
	}
	o.Source = strings.Join(names, ", ")
	for _, f := range e.Findings {
		if f.Severity != schema.Note {
			o.Doubts++
		}
	}
	if there {
		o.Status = "unchanged"
		now, errNow := readDepends(e.Depends)
		old, errOld := readDepends(was.Depends)
		if errors.Join(errNow, errOld) == nil && (in.force || was.Fingerprint != e.Fingerprint) {
			o.Status, o.Reason = "remade", now.changed(old)
		}
	}
	if there && e.Anew {
		o.Status, o.Reason = "remade", "the archive did not have its bytes"
	}
	in.pending.Outcomes = append(in.pending.Outcomes, o)
}

// tell notes an outcome that waits for no commit.
func (in *ingest) tell(o ...Outcome) {
	in.mu.Lock()
	defer in.mu.Unlock()
	in.result.Outcomes = append(in.result.Outcomes, o...)
}

// refuse records a source that cannot be used: as a finding of no run, unless the run's other sources make one that tells.
func (in *ingest) refuse(b refused, told bool) {
	in.mu.Lock()
	defer in.mu.Unlock()
	switch {
	case told:
	case b.In != "":
		in.packed[b.SHA256] = append(in.packed[b.SHA256], b.findings...) // Its fellows may land later: what is said of the archive is said once, at the end.
	default:
		in.batch.Loose = append(in.batch.Loose, lake.Refusal{SHA256: b.SHA256, Findings: b.findings})
	}
	why := b.findings[len(b.findings)-1].Text
	in.pending.refuse(b.key(), why)
	in.pending.Outcomes = append(in.pending.Outcomes, Outcome{Status: "set aside", Source: b.Source, Reason: why})
}

// commit stores the batch while the next one fills. The caller holds mu, which commit gives back; a batch that is full before the one before it is stored
// waits with mu held, so that there are never more than two.
func (in *ingest) commit(ctx context.Context) error {
	in.storing.Lock()
	batch, pending, held := in.batch, in.pending, in.held
	in.batch, in.pending, in.since, in.held, in.remakes = lake.Batch{Replace: in.force}, Result{}, time.Now(), 0, false
	in.mu.Unlock()
	err := in.save(ctx, batch)
	in.storing.Unlock() // Before mu is asked for again, which the next one may hold.
	if err != nil {
		return err
	}
	in.mu.Lock()
	defer in.mu.Unlock()
	in.result.Outcomes = append(in.result.Outcomes, pending.Outcomes...)
	in.result.Rows += pending.Rows
	in.result.Bytes += pending.Bytes
	for key, why := range pending.refused {
		in.result.refuse(key, why)
	}
	in.pace.take(-held)
	return nil
}

func (in *ingest) save(ctx context.Context, b lake.Batch) error {
	if len(b.Runs)+len(b.Loose)+len(b.Retire) == 0 {
		return nil
	}
	slices.SortFunc(b.Runs, func(a, b lake.Entry) int { return strings.Compare(a.Run.ID, b.Run.ID) })
	return in.writer.Commit(ctx, b)
}

func (in *ingest) step() {
	in.mu.Lock()
	defer in.mu.Unlock()
	in.done++
	if in.opts.Progress != nil {
		in.opts.Progress(in.done, in.jobs)
	}
}
