package night

import (
	"cmp"
	"maps"
	"slices"

	"dynolake/pipeline"
)

// News is what is new since the last refresh.
type News struct {
	First    bool // There was no refresh before.
	Runs     []string
	Remade   []string // Ids of runs that are other rows now.
	Gone     []string
	Verdicts []Verdict
	Passed   []Passed
	SetAside []pipeline.Outcome
	Waiting  []pipeline.Outcome
	Outcomes map[string]pipeline.Outcome // Of this refresh, by run.
}

// None reports whether nothing is new; what waits is no news.
func (n News) None() bool {
	return len(n.Runs)+len(n.Remade)+len(n.Gone)+len(n.Verdicts)+len(n.Passed)+len(n.SetAside) == 0
}

// News compares the lake with what the last refresh left, and adds what became of the inbox.
func (w *Work) News(taken pipeline.Result) News {
	n := News{First: w.Was.Format == 0, Verdicts: Changed(w.Was.Verdicts, w.Now.Verdicts), Passed: Beyond(w.Was.Passed, w.Now.Passed), Outcomes: map[string]pipeline.Outcome{}}
	for _, id := range slices.Sorted(maps.Keys(w.Now.Runs)) {
		switch was, there := w.Was.Runs[id]; {
		case !there:
			n.Runs = append(n.Runs, id)
		case was != w.Now.Runs[id]:
			n.Remade = append(n.Remade, id)
		}
	}
	for _, id := range slices.Sorted(maps.Keys(w.Was.Runs)) {
		if w.Now.Runs[id] == "" {
			n.Gone = append(n.Gone, id)
		}
	}
	for _, o := range taken.Outcomes {
		switch o.Status {
		case "set aside":
			n.SetAside = append(n.SetAside, o)
		case "waiting":
			n.Waiting = append(n.Waiting, o)
		default:
			n.Outcomes[o.RunID] = o
		}
	}
	bySource := func(a, b pipeline.Outcome) int {
		return cmp.Or(cmp.Compare(a.Source, b.Source), cmp.Compare(a.Reason, b.Reason))
	}
	slices.SortFunc(n.SetAside, bySource)
	slices.SortFunc(n.Waiting, bySource)
	return n
}
