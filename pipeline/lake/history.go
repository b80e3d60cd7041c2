package lake

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"dynolake/schema"
)

// history is what the files of a lake say of the commits that wrote them.
type history struct {
	files map[string]*reading          // Every readable file by its path.
	lost  map[string]string            // What cannot be read, and why.
	names map[int64]map[string]*commit // Commits by number and name, each with all that its files say.
	order map[int64]string             // The name of each number's real commit.
}

func newHistory() *history {
	return &history{files: map[string]*reading{}, lost: map[string]string{}, names: map[int64]map[string]*commit{}, order: map[int64]string{}}
}

// add takes in a file.
func (h *history) add(path string, r *reading) {
	h.files[path] = r
	c := r.footer.Commit
	if h.names[c.Number] == nil {
		h.names[c.Number] = map[string]*commit{}
	}
	known := h.names[c.Number][c.Name]
	if known == nil {
		known = &commit{Number: c.Number, Name: c.Name, Parent: c.Parent, At: c.At}
		h.names[c.Number][c.Name] = known
	}
	known.Replaces = append(known.Replaces, c.Replaces...)
	if sums(c.Files) >= sums(known.Files) { // A later file knows more checksums.
		known.Files = c.Files
	}
}

func sums(files []fileFact) int {
	n := 0
	for _, f := range files {
		if f.SHA256 != "" {
			n++
		}
	}
	return n
}

// choose tells, of commits with one number, the real one from those that were interrupted: the one that the next commit
// came after; of the newest, the one that was written to its last file, and lately. Of commits in between that no other
// names, the latest try is the one that took place, or there would be none after it.
func (h *history) choose() {
	newest := slices.Max(append(slices.Collect(maps.Keys(h.names)), 0))
	for n, names := range h.names {
		list := slices.Collect(maps.Values(names))
		if n > 1 {
			h.order[n-1] = list[0].Parent // Perhaps none of its files is left, and all of that number are others'.
		}
		if len(h.names[n+1]) > 0 {
			continue // Its files name this one's.
		}
		if n == newest {
			list = slices.DeleteFunc(list, func(c *commit) bool { return !h.finished(c) })
		}
		if len(list) > 0 {
			h.order[n] = slices.MaxFunc(list, func(a, b *commit) int { return a.At.Compare(b.At) }).Name
		}
	}
}

// finished reports whether a commit's last file is there: a commit that has it has all others too.
func (h *history) finished(c *commit) bool {
	if len(c.Files) == 0 {
		return false
	}
	last := c.Files[len(c.Files)-1].Path
	return h.files[last] != nil || h.lost[last] != ""
}

// real reports whether a file is of a commit that took place.
func (h *history) real(path string) bool {
	c := h.files[path].footer.Commit
	return h.order[c.Number] == c.Name
}

// state works out which files are live, and which owners have lost a part.
func (h *history) state() (live []string, lost map[string]string) {
	h.choose()
	replaced := h.replaced()
	for path := range h.files {
		if h.real(path) && !replaced[path] {
			live = append(live, path)
		}
	}
	slices.SortFunc(live, func(a, b string) int { return cmp.Compare(a, b) })
	return live, h.incomplete(live)
}

// replaced gives the files that commits which took place took out of use.
func (h *history) replaced() map[string]bool {
	out := map[string]bool{}
	for n, name := range h.order {
		if c := h.names[n][name]; c != nil {
			for _, p := range c.Replaces {
				out[p] = true
			}
		}
	}
	return out
}

// unusable lists the damaged files that no commit has taken out of use.
func (h *history) unusable() []string {
	replaced := h.replaced()
	return slices.DeleteFunc(slices.Sorted(maps.Keys(h.lost)), func(path string) bool { return replaced[path] })
}

// aside names the newest commits that are not whole, and so are taken for interrupted.
func (h *history) aside() []Problem {
	var list []Problem
	for _, n := range slices.Sorted(maps.Keys(h.names)) {
		if h.order[n] != "" {
			continue
		}
		for _, name := range slices.Sorted(maps.Keys(h.names[n])) {
			list = append(list, Problem{Note: true, What: fmt.Sprintf("commit %d-%s is left out: its last file is not there, as after an interrupted save", n, name),
				Cost: "if it was not interrupted, ingest its logs again (the archive has the bytes)"})
		}
	}
	return list
}

// told reports whether a live file says what a run depends on.
func (h *history) told(live []string, owner string) bool {
	for _, path := range live {
		if r := h.files[path]; r.footer.Table == "runs" && r.owners[owner] > 0 {
			return true
		}
	}
	return false
}

// incomplete finds owners whose live parts do not make a whole: rows without a run, a run without all of its rows.
func (h *history) incomplete(live []string) (lost map[string]string) {
	rows, parts := map[string]map[string]int64{}, map[string]map[string]int64{}
	for _, path := range live {
		r := h.files[path]
		for owner, n := range r.owners {
			if sha256Form.MatchString(owner) {
				continue
			}
			if rows[owner] == nil {
				rows[owner] = map[string]int64{}
			}
			rows[owner][r.footer.Table] += n
		}
		if r.footer.Table == "runs" {
			for _, o := range r.footer.Owners {
				parts[o.Owner] = o.Parts
			}
		}
	}
	lost = map[string]string{}
	for owner, have := range rows {
		for _, t := range schema.Tables() {
			if want := parts[owner][t.Name]; have[t.Name] != want {
				lost[owner] = fmt.Sprintf("%s has %d rows of it, want %d", t.Name, have[t.Name], want)
			}
		}
	}
	return lost
}
