package pipeline

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"os"
	"slices"

	"dynolake/pipeline/read"
	"dynolake/pipeline/read/canlog"
	"dynolake/pipeline/read/delimited"
	"dynolake/schema"
)

// mend makes a member, whose bytes cannot be unpacked to the end, one of what can be had of them: the whole lines of a text log. It
// stays as it is where that is nothing.
func (m *member) mend(ctx context.Context, packed schema.Source) {
	m.Leaf, m.Unpacked = "", 0
	if packed.Mend == nil {
		return
	}
	src, _, err := packed.Mend(ctx)
	if err != nil {
		return
	}
	r, err := read.Detect(ctx, src)
	if err != nil || r.Form() != canlog.Form && r.Form() != (delimited.Reader{}).Form() {
		return // A reader of other forms needs all of its bytes.
	}
	if sum, n, err := sumOf(ctx, src); err == nil {
		m.Leaf, m.Unpacked, m.Cut = sum, n, true
	}
}

// findHeads looks, in the sources of the jobs, for the beginnings that are cut sources: of the jobs themselves or stored in the lake. Who
// has the whole has the beginning too.
func (in *ingest) findHeads(ctx context.Context, jobs []*job, stored []recording) error {
	cuts := map[string]int64{} // Length by SHA-256.
	note := func(list []member) {
		for _, m := range list {
			if m.Cut {
				cuts[m.Leaf] = m.Unpacked
			}
		}
	}
	for _, r := range stored {
		note(r.members)
	}
	for _, j := range jobs {
		note(j.members)
	}
	if len(cuts) == 0 {
		return nil
	}
	for _, j := range jobs {
		for i := range j.members {
			m := &j.members[i]
			if err := m.findHeads(ctx, &in.shelf, j.paths[i], cuts); ctx.Err() != nil {
				return err
			}
		}
	}
	return nil
}

// findHeads looks for the beginnings of one source; what cannot be read has none. A mended source is no longer than itself.
func (m *member) findHeads(ctx context.Context, s *shelf, path string, cuts map[string]int64) error {
	if path == "" || m.At != "" {
		return nil
	}
	src, _, err := s.leaf(ctx, *m, schema.Source{Name: m.whole(), Size: m.Bytes, Open: func() (io.ReadCloser, error) { return os.Open(path) }})
	if err != nil {
		return err
	}
	f, err := src.Open()
	if err != nil {
		return err
	}
	var lengths []int64
	for _, n := range cuts {
		lengths = append(lengths, n)
	}
	slices.Sort(lengths)
	h, at := sha256.New(), int64(0)
	for _, n := range slices.Compact(lengths) {
		if _, err := io.CopyN(h, stoppable{ctx, f}, n-at); err != nil {
			return errors.Join(err, f.Close())
		}
		at = n
		sum := hex.EncodeToString(h.Sum(nil))
		if length, ok := cuts[sum]; ok && length == n && sum != m.Leaf {
			m.heads = append(m.heads, sum)
		}
	}
	return f.Close()
}

// heads is how many of the job's sources have more than cut ones have of them.
func (j *job) heads() int {
	n := 0
	for _, m := range j.members {
		n += len(m.heads)
	}
	return n
}
