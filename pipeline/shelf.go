package pipeline

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"

	"dynolake/pipeline/read"
	"dynolake/schema"
)

// shelfRoom is how many open archives are kept at hand.
const shelfRoom = 2

// shelf keeps the archives that were opened last, so that one of many members is opened once.
type shelf struct {
	can  canBus                                  // The lake's CAN databases.
	blob func(sha string) (io.ReadCloser, error) // Opens archived bytes; nil where nothing is archived.

	mu   sync.Mutex
	kept []opened // The newest last.
}

type opened struct {
	key   string
	files []schema.Source
	found []schema.Finding
}

// unpack gives the files that a source packs. The key stands for the source's bytes and name.
func (s *shelf) unpack(ctx context.Context, key string, src schema.Source) ([]schema.Source, []schema.Finding, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, o := range s.kept {
		if o.key == key {
			return o.files, o.found, nil
		}
	}
	files, found, err := read.Unpack(ctx, src)
	if err != nil {
		return nil, nil, err
	}
	if len(s.kept) == shelfRoom {
		s.kept = s.kept[1:]
	}
	s.kept = append(s.kept, opened{key, files, found})
	return files, found, nil
}

// leaf gives the source that a member of an archive is, for a source that is the archive.
func (s *shelf) leaf(ctx context.Context, m member, whole schema.Source) (schema.Source, []schema.Finding, error) {
	packed, err := read.Packed(ctx, whole)
	if err != nil || !packed {
		return whole, nil, err
	}
	files, found, err := s.unpack(ctx, m.SHA256+" "+whole.Name, whole)
	if err != nil {
		return whole, nil, err
	}
	var names []string
	for _, f := range files {
		rel := strings.TrimPrefix(strings.TrimPrefix(f.Name, whole.Name), "/")
		if rel == m.In && m.Cut {
			f, cut, err := f.Mend(ctx)
			return f, append(slices.Clip(found), cut...), err
		}
		if rel == m.In {
			return f, found, nil
		}
		names = append(names, rel)
	}
	if m.In == "" && m.At != "" {
		m.In = m.At
	}
	return whole, nil, fmt.Errorf("%s: found no member %q: the archive holds %.20q", whole.Name, m.In, names)
}

// sumOf hashes what a member of an archive unpacks to.
func sumOf(ctx context.Context, src schema.Source) (string, int64, error) {
	f, err := src.Open()
	if err != nil {
		return "", 0, err
	}
	h := sha256.New()
	n, err := io.Copy(h, stoppable{ctx, f})
	return hex.EncodeToString(h.Sum(nil)), n, errors.Join(err, f.Close())
}
