package lake

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
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
// came after; of the newest, the one that was written to its last file, and lately.
func (h *history) choose() {
	for _, n := range slices.Backward(slices.Sorted(maps.Keys(h.names))) {
		if child := h.order[n+1]; child != "" {
			h.order[n] = h.names[n+1][child].Parent // Perhaps none of its files is left, and all of this number are others'.
			continue
		}
		list := slices.Collect(maps.Values(h.names[n]))
		list = slices.DeleteFunc(list, func(c *commit) bool { return !h.finished(c) })
		if len(list) > 0 {
			h.order[n] = slices.MaxFunc(list, func(a, b *commit) int { return a.At.Compare(b.At) }).Name
		}
	}
}

// finished reports whether a commit's last file was ever there: a commit that has it has all others too.
func (h *history) finished(c *commit) bool {
	if len(c.Files) == 0 {
		return false
	}
	last := c.Files[len(c.Files)-1].Path
	if h.files[last] != nil || h.lost[last] != "" {
		return true
	}
	for _, other := range h.names {
		for _, o := range other {
			if o.Number > c.Number && slices.Contains(o.Replaces, last) {
				return true
			}
		}
	}
	return false
}

// real reports whether a file is of a commit that took place.
func (h *history) real(path string) bool {
	c := h.files[path].footer.Commit
	return h.order[c.Number] == c.Name
}

// state works out which files are live, and which owners have lost a part.
func (h *history) state() (live []string, lost map[string]string) {
	h.choose()
	replaced := map[string]bool{}
	due := map[string]*commit{}
	sum := map[string]string{}
	for n, name := range h.order {
		c := h.names[n][name]
		if c == nil {
			continue
		}
		for _, p := range c.Replaces {
			replaced[p] = true
		}
		for _, f := range c.Files {
			due[f.Path], sum[f.Path] = c, f.SHA256
		}
	}
	lost = map[string]string{}
	for _, path := range slices.Sorted(maps.Keys(due)) {
		if why := h.missing(path); why != "" && !replaced[path] {
			for _, owner := range h.share(due[path], path) {
				lost[owner] = path + ": " + why
			}
		}
	}
	for path := range h.files {
		if h.real(path) && !replaced[path] {
			live = append(live, path)
		}
	}
	slices.SortFunc(live, func(a, b string) int { return cmp.Compare(a, b) })
	h.incomplete(live, lost)
	return live, lost
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

func (h *history) missing(path string) string {
	if why := h.lost[path]; why != "" {
		return why
	}
	if h.files[path] == nil {
		return "missing"
	}
	return ""
}

// share gives the owners whose rows a lost file may have held: of samples the run in its name, else all of the commit's.
func (h *history) share(c *commit, path string) []string {
	if base := path[strings.LastIndex(path, "/")+1:]; strings.HasPrefix(path, "samples/") && runForm.MatchString(strings.SplitN(base, "-", 2)[0]) {
		return []string{base[:16]}
	}
	owners := map[string]bool{}
	for _, f := range c.Files {
		if r := h.files[f.Path]; r != nil {
			for owner := range r.owners {
				owners[owner] = true
			}
		}
	}
	return slices.Sorted(maps.Keys(owners))
}

// incomplete finds owners whose live parts do not make a whole: rows without a run, a run without its rows.
func (h *history) incomplete(live []string, lost map[string]string) {
	claimed, samples, rows := map[string]int64{}, map[string]int64{}, map[string]int64{}
	for _, path := range live {
		r := h.files[path]
		maps.Copy(claimed, r.counts)
		for owner, n := range r.owners {
			switch r.footer.Table {
			case "samples":
				samples[owner] += n
			case "runs":
				rows[owner] += n
			}
		}
	}
	for _, path := range live {
		for owner := range h.files[path].owners {
			if !sha256Form.MatchString(owner) && lost[owner] == "" && (rows[owner] != 1 || samples[owner] != claimed[owner]) {
				lost[owner] = path + ": its other parts are missing"
			}
		}
	}
}
