package pipeline

import (
	"context"
	"maps"
	"slices"

	"dynolake/pipeline/lake"
	"dynolake/pipeline/sheet"
)

// Reprocess makes runs again from their archived bytes with today's program and configuration: those of the ids, or all.
// A run that comes out as it was is stored anew only with force.
func Reprocess(ctx context.Context, l *lake.Lake, w *lake.Writer, r *Recipe, ids []string, force bool, opts Options) (Result, error) {
	in, err := newIngest(ctx, l, w, r, opts)
	if err != nil {
		return Result{}, err
	}
	in.force, in.batch.Replace = force, force
	if len(ids) == 0 {
		ids = slices.Sorted(maps.Keys(in.known))
	}
	jobs, err := in.stored(ids)
	if err != nil {
		return Result{}, err
	}
	err = in.run(ctx, jobs)
	return in.result, err
}

// Repair takes damaged files, by their paths in the lake, out of use and makes the runs that had a part in them again from
// their archived bytes, and with them the runs that an earlier repair or rebuild left waiting.
func Repair(ctx context.Context, l *lake.Lake, w *lake.Writer, r *Recipe, paths []string, opts Options) (res Result, refused []string, err error) {
	if refused, err = w.SetAside(ctx, paths); err != nil {
		return Result{}, nil, err
	}
	waiting, err := l.Awaiting(ctx)
	if err != nil || len(waiting) == 0 {
		return Result{}, refused, err
	}
	in, err := newIngest(ctx, l, w, r, opts)
	if err != nil {
		return Result{}, refused, err
	}
	maps.Copy(in.known, waiting)
	in.force = true
	jobs, err := in.stored(slices.Sorted(maps.Keys(waiting)))
	if err != nil {
		return Result{}, refused, err
	}
	err = in.run(ctx, jobs)
	return in.result, refused, err
}

// unchanged reports whether every part of a job is in the lake as it would be made today. What a run's sheet or options said stays
// said when the same bytes come without a sheet, as far as options say nothing else.
func (in *ingest) unchanged(ctx context.Context, j *job) (bool, error) {
	n := 0
	for ; ; n++ {
		known, ok := in.known[runID(j.members, n)]
		if !ok {
			break
		}
		was, err := readDepends(known.Depends)
		if err != nil {
			return false, err
		}
		now := was
		if was.Sheeted && (j.rank < 0 || !j.sheeted) { // No sheet: what was said stays, but for what the options say now.
			j.sheet, j.sheeted = sheet.Fill(j.sheet, was.Sheet.sheet()), true
		}
		now.Sheet, now.Sheeted = state(j.sheet), j.sheeted
		now.Members = j.keepDatabases(was.Members)
		if in.force || now.today(in.recipe).fingerprint() != known.Fingerprint {
			return false, nil
		}
	}
	if n == 0 {
		return false, nil
	}
	for i := range j.paths {
		there, err := in.lake.Archived(ctx, j.members[i].SHA256)
		if err != nil {
			return false, err
		}
		if !there {
			j.anew = true
			return false, nil
		}
	}
	for part := range n {
		in.tell(Outcome{Status: "unchanged", RunID: runID(j.members, part), Source: j.names(), Run: runOf("", j.sheet)})
	}
	return true, nil
}

// edited lists jobs for the stored runs, beside those already in hand, whose configuration was edited since.
func (in *ingest) edited(inHand []*job) ([]*job, error) {
	skip := map[string]bool{}
	for _, j := range inHand {
		skip[runID(j.members, 0)] = true
		if j.group != nil {
			for _, r := range j.group.retire {
				skip[r.id] = true
			}
		}
	}
	var ids []string
	rules := in.recipe.Rules.Fingerprint()
	for _, id := range slices.Sorted(maps.Keys(in.known)) {
		was, err := in.brief(id)
		if err == nil && was.AllMappings != rules {
			was, err = readDepends(in.known[id].Depends)
		}
		if err != nil {
			return nil, err
		}
		if !was.stands(in.recipe) && !skip[runID(was.Members, 0)] {
			ids = append(ids, id)
		}
	}
	return in.stored(ids)
}

// brief gives what a stored run depends on, but for its channels.
func (in *ingest) brief(id string) (depends, error) {
	if d, ok := in.briefs[id]; ok {
		return d, nil
	}
	d, err := readBrief(in.known[id].Depends)
	if err == nil {
		in.briefs[id] = d
	}
	return d, err
}

// stored lists jobs that make stored runs again from the archive, one for all parts of a recording.
func (in *ingest) stored(ids []string) ([]*job, error) {
	var jobs []*job
	had := map[string]bool{}
	for _, id := range ids {
		known, ok := in.known[id]
		if !ok {
			return nil, &UnknownRunError{ID: id}
		}
		d, err := readDepends(known.Depends)
		if err != nil {
			return nil, err
		}
		if first := runID(d.Members, 0); !had[first] {
			had[first] = true
			jobs = append(jobs, &job{members: d.Members, sheet: d.Sheet.sheet(), sheeted: d.Sheeted})
		}
	}
	return jobs, nil
}

// UnknownRunError names a run that the lake does not have.
type UnknownRunError struct{ ID string }

func (e *UnknownRunError) Error() string {
	return "find run " + e.ID + ": the lake has no run of that id; `dynolake runs` lists them"
}
