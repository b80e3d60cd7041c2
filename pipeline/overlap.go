package pipeline

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"dynolake/pipeline/lake"
	"dynolake/pipeline/sheet"
	"dynolake/schema"
)

// key names a source's bytes: those of the log itself where it is packed, so that it is the same one packed or not.
func (m member) key() string {
	if m.Leaf != "" {
		return m.Leaf + m.At
	}
	return m.SHA256 + m.In + m.At
}

// book names the bytes that a source is, or is a sheet of.
func (m member) book() string {
	m.At = ""
	return m.key()
}

// holders tells which jobs have a source. A workbook as a whole has the sheets that it holds: who names one has part of it.
type holders map[string][]holding // By book.

type holding struct {
	at  string // The sheet, empty for the whole.
	job *job
}

// of lists the jobs that have a source, the workbook that it is a sheet of, or a sheet of it.
func (h holders) of(m member) []*job {
	var jobs []*job
	for _, x := range h[m.book()] {
		if overlap(x.at, m.At) && !slices.Contains(jobs, x.job) {
			jobs = append(jobs, x.job)
		}
	}
	return jobs
}

func (h holders) add(j *job) {
	for _, m := range j.members {
		h[m.book()] = append(h[m.book()], holding{m.At, j})
		for _, head := range m.heads {
			h[head] = append(h[head], holding{"", j})
		}
	}
}

// forget takes out what shares bytes with a source.
func (h holders) forget(m member) {
	h[m.book()] = slices.DeleteFunc(h[m.book()], func(x holding) bool { return overlap(x.at, m.At) })
}

// shares reports whether two sources are the same, or one is a sheet of the other.
func (m member) shares(n member) bool {
	return m.book() == n.book() && overlap(m.At, n.At)
}

// overlap reports whether two sheets of a workbook are the same one, or either is the whole of it.
func overlap(a, b string) bool {
	return a == "" || b == "" || strings.EqualFold(strings.TrimSpace(a), strings.TrimSpace(b))
}

// group is jobs that land in one commit, and the stored recordings whose sources they take over.
type group struct {
	jobs    []*job
	waiting int // Of them, those that are not done yet.
	landed  bool
	entries []lake.Entry
	retire  []recording
}

// recording is what the lake holds of sources that were recorded together: one run, or several where a recorder restarted.
type recording struct {
	id      string // Of its first part.
	ids     []string
	members []member
	why     string // Why it retires.
}

func (r recording) names() string { return (&job{members: r.members}).names() }

// recordings lists what the lake holds, by the id of the first part.
func (in *ingest) recordings() ([]recording, error) {
	byID := map[string]recording{}
	for _, id := range slices.Sorted(maps.Keys(in.known)) {
		d, err := in.brief(id)
		if err != nil {
			return nil, err
		}
		first := runID(d.Members, 0)
		r := byID[first]
		byID[first] = recording{id: first, ids: append(r.ids, id), members: d.Members}
	}
	return slices.SortedFunc(maps.Values(byID), func(a, b recording) int { return cmp.Compare(a.id, b.id) }), nil
}

// drop takes members out of a job and gives their names.
func (j *job) drop(out func(member) bool) string {
	was := *j
	var gone job
	j.members, j.paths = nil, nil
	for i, m := range was.members {
		if out(m) {
			gone.members = append(gone.members, m)
			continue
		}
		j.members, j.paths = append(j.members, m), append(j.paths, was.paths[i])
	}
	return gone.names()
}

// disjoin leaves each source to one job, for the same bytes are one run: to the one with the most sources, among equals to
// the one whose sheet is nearest, else to the first. A job that has lost all of its sources goes.
func disjoin(jobs []*job) []*job {
	order := slices.Clone(jobs)
	slices.SortStableFunc(order, func(a, b *job) int {
		return cmp.Or(cmp.Compare(b.heads(), a.heads()), cmp.Compare(len(b.members), len(a.members)), cmp.Compare(uint(a.rank), uint(b.rank))) // No sheet is the farthest.
	})
	holder := holders{}
	for _, j := range order {
		var others []*job
		for _, m := range j.members {
			for _, o := range holder.of(m) {
				if !slices.Contains(others, o) {
					others = append(others, o)
				}
			}
		}
		for _, o := range others {
			if lost := j.drop(func(m member) bool { return slices.Contains(holder.of(m), o) }); lost != "" {
				o.absorb(j, lost)
			}
		}
		holder.add(j)
	}
	return slices.DeleteFunc(jobs, func(j *job) bool { return len(j.members) == 0 })
}

// absorb notes that another job, which lost sources to this one, named them too; when it lost all, its sheet counts as well.
func (j *job) absorb(other *job, lost string) {
	if len(other.members) > 0 {
		other.findings = append(other.findings, remark(schema.Note, "same_bytes", 0, "", "%s holds the same bytes as a source of %s: it is read there alone", lost, j.names()))
	}
	severity, text := schema.Note, "%s holds the same bytes as %s: one run"
	if what := state(other.sheet).contradicts(state(j.sheet)); what != "" && len(other.members) == 0 {
		severity, text = schema.Doubt, text+"; their sheets differ in "+what+", and the nearer or first one wins"
	}
	j.findings = append(j.findings, remark(severity, "same_bytes", 0, "", text, lost, j.names()))
	if len(other.members) > 0 {
		return
	}
	if near, far := other, j; uint(near.rank) < uint(far.rank) {
		j.sheet, j.rank = sheet.Fill(near.sheet, far.sheet), near.rank
	} else {
		j.sheet = sheet.Fill(far.sheet, near.sheet)
	}
	j.sheeted = !state(j.sheet).empty()
	j.findings = append(j.findings, other.findings...)
}

// settle holds the jobs against what the lake has, for the same bytes are one run. A stored run all of whose sources are
// named by the sheets of these jobs retires when they land; of another, the jobs leave the sources where they are.
func (in *ingest) settle(jobs []*job, stored []recording) []*job {
	holder := holders{}
	ids := map[string]bool{}
	for _, j := range jobs {
		ids[runID(j.members, 0)] = true
		holder.add(j)
	}
	var taken []recording
	for _, r := range stored {
		switch jobs := sharing(r, holder); {
		case len(jobs) == 0 || ids[r.id]:
		case covered(r, holder):
			taken = append(taken, r)
		default:
			in.leave(r, jobs, holder)
		}
	}
	jobs = slices.DeleteFunc(jobs, func(j *job) bool { return len(j.members) == 0 })
	for _, j := range jobs {
		ids[runID(j.members, 0)] = true
	}
	for _, r := range taken {
		if !ids[r.id] && covered(r, holder) {
			join(r, sharing(r, holder))
		}
	}
	return jobs
}

// sharing lists the jobs that have a source of a recording.
func sharing(r recording, holder holders) []*job {
	var jobs []*job
	for _, m := range r.members {
		for _, j := range holder.of(m) {
			if !slices.Contains(jobs, j) {
				jobs = append(jobs, j)
			}
		}
	}
	return jobs
}

// covered reports whether the run sheets of the jobs name every source of a recording; a workbook, of which they name a sheet, counts:
// who names sheets leaves the others out. For a source that was cut, the whole one need not be named.
func covered(r recording, holder holders) bool {
	return !slices.ContainsFunc(r.members, func(m member) bool {
		jobs := holder.of(m)
		return len(jobs) == 0 || !m.Cut && slices.ContainsFunc(jobs, func(j *job) bool { return j.rank < 0 })
	})
}

// leave takes the sources of a stored recording out of the jobs.
func (in *ingest) leave(r recording, jobs []*job, holder holders) {
	for _, j := range jobs {
		lost := j.drop(func(m member) bool {
			return slices.ContainsFunc(r.members, m.shares)
		})
		if lost == "" {
			continue // It holds more than the recording has of it.
		}
		if len(j.members) > 0 {
			j.findings = append(j.findings, remark(schema.Note, "same_bytes", 0, "", "%s holds the same bytes as a source of run %s: it is read there alone", lost, r.id))
			continue
		}
		in.tell(Outcome{Status: "unchanged", RunID: r.id, Source: lost, Reason: "its bytes are part of that run"})
	}
	for _, m := range r.members {
		holder.forget(m)
	}
}

// join lets jobs land in one commit in which a recording retires.
func join(r recording, jobs []*job) {
	g := &group{}
	for _, j := range jobs {
		switch old := j.group; old {
		case g: // It came with a job before it.
		case nil:
			j.group = g
			g.jobs = append(g.jobs, j)
		default:
			g.jobs, g.retire = append(g.jobs, old.jobs...), append(g.retire, old.retire...)
			for _, other := range old.jobs {
				other.group = g
			}
		}
	}
	g.waiting = len(g.jobs)
	r.why = "its logs are part of other runs now"
	if len(jobs) == 1 {
		r.why = "its logs are part of run " + runID(jobs[0].members, 0) + " now"
	}
	g.retire = append(g.retire, r)
}

// stale lists the stored parts of a job's recording beyond those that it has now.
func (in *ingest) stale(j *job, parts int) []recording {
	r := recording{id: runID(j.members, 0), members: j.members, why: "the recording has fewer parts now"}
	for n := parts; ; n++ {
		id := runID(j.members, n)
		if _, there := in.known[id]; !there {
			break
		}
		r.ids = append(r.ids, id)
	}
	if len(r.ids) == 0 {
		return nil
	}
	return []recording{r}
}
