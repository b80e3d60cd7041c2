package pipeline

import (
	"math"
	"path"
	"slices"
	"strings"

	"dynolake/pipeline/sheet"
	"dynolake/schema"
)

// late parts the entries that name logs which do not lie in the inbox. Where the lake holds just one recording of logs with those names,
// the entry is about it: written later than the log came, or edited since. It is then a job that makes the run again. An
// entry that contradicts the run's vehicle or start is about another log of the same name, and waits as the others do.
func (t *taking) late() ([]*job, error) {
	if len(t.found.Waiting) == 0 {
		return nil, nil
	}
	stored, err := t.recordings()
	if err != nil {
		return nil, err
	}
	var jobs []*job
	for _, spec := range t.found.Waiting {
		if len(spec.Files) == 0 && !slices.ContainsFunc(spec.Missing, func(n string) bool { return !t.seen.Refused(n) }) {
			continue // All of it was refused.
		}
		same := slices.DeleteFunc(slices.Clone(stored), func(r recording) bool { return !t.named(r, spec) })
		if len(spec.Files) > 0 || len(same) != 1 {
			t.waiting = append(t.waiting, spec)
			continue
		}
		d, err := readDepends(t.known[same[0].ids[0]].Depends)
		if err != nil {
			return nil, err
		}
		now := state(spec.Sheet)
		if now.Vehicle != d.Sheet.Vehicle && now.Vehicle != "" && d.Sheet.Vehicle != "" || now.StartedAt != d.Sheet.StartedAt && now.StartedAt != "" && d.Sheet.StartedAt != "" {
			t.waiting = append(t.waiting, spec)
			continue
		}
		if now.changed(d.Sheet) == "" {
			continue // It has been heeded.
		}
		f := remark(schema.Doubt, "sheet_without_log", math.NaN(), "", "%s speaks of %s, which is in the lake already: it is taken to be that log; if another of the same name was meant, put both into the inbox together",
			spec.Sheet.Origin, same[0].names())
		jobs = append(jobs, &job{members: d.Members, sheet: spec.Sheet, sheeted: !now.empty(), rank: spec.Rank, from: spec.From, findings: append(slices.Clip(spec.Findings), f)})
	}
	return jobs, nil
}

// named reports whether a recording is of the logs that an entry names, all of them and no other.
func (t *taking) named(r recording, spec sheet.Spec) bool {
	if len(r.members) != len(spec.Missing) {
		return false
	}
	for _, m := range r.members {
		if !slices.ContainsFunc(spec.Missing, func(n string) bool { return names(n, m.Source) }) {
			return false
		}
	}
	return true
}

// names reports whether a name in a sheet is a source's: the same, or the same without its ending for a NAME.run.yaml.
func names(name, source string) bool {
	if name == source {
		return true
	}
	if path.Ext(name) != "" || path.Dir(name) != path.Dir(source) {
		return false
	}
	rest, ok := strings.CutPrefix(path.Base(source), path.Base(name))
	return ok && strings.HasPrefix(rest, ".")
}

// apart leaves out jobs on sources that others have in hand.
func apart(jobs, others []*job) []*job {
	held := holders{}
	for _, j := range others {
		held.add(j)
	}
	return slices.DeleteFunc(jobs, func(j *job) bool {
		return slices.ContainsFunc(j.members, func(m member) bool { return len(held.of(m)) > 0 })
	})
}
