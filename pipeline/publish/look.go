package publish

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"dynolake/pipeline/publish/store"
	"dynolake/schema"
)

// Publication is what a reader finds at a destination: plain Parquet of one snapshot of a lake.
type Publication struct {
	Snapshot schema.Snapshot // Its root is a folder, or s3://bucket/prefix; its files those of the manifest, what is stated among them.
	Access   store.Access    // To the bucket; empty for a folder.
}

// Look reads what was published at a destination, and changes nothing.
func Look(ctx context.Context, dest string, env func(string) string) (p Publication, err error) {
	s, err := store.Open(dest, env)
	if err != nil {
		return p, err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	m, err := look(ctx, s)
	if err != nil {
		return p, fmt.Errorf("read the publication at %s: %w", s.URI(), err)
	}
	p.Snapshot = schema.Snapshot{ID: m.Snapshot, Root: s.URI(), Files: map[string][]string{}}
	for name, t := range m.Tables {
		files := make([]string, len(t.Files))
		for i, f := range t.Files {
			files[i] = f.Path
		}
		p.Snapshot.Files[name] = files
	}
	if path, ok := strings.CutPrefix(s.URI(), "file://"); ok {
		p.Snapshot.Root = filepath.FromSlash(path)
		return p, nil
	}
	p.Access, err = store.Reach(env)
	return p, err
}

// look reads the mark and the manifest that the pointer holds.
func look(ctx context.Context, s store.Store) (m manifest, err error) {
	text, err := s.Read(ctx, markName)
	if errors.Is(err, store.ErrNone) {
		return m, errors.New("there is none: dynolake publish DEST --as parquet makes one")
	}
	if err != nil {
		return m, err
	}
	var is mark
	if err := json.Unmarshal(text, &is); err != nil || is.Program != program {
		return m, fmt.Errorf("it holds a %s that is not ours", markName)
	}
	if is.Form != Parquet {
		return m, fmt.Errorf("it was published with --as %s, and is asked as plain files: publish with --as parquet to another place, or read its tables with an engine that knows the form", is.Form)
	}
	text, err = s.Read(ctx, manifestName)
	if errors.Is(err, store.ErrNone) {
		return m, errors.New("nothing is published yet, a publish was interrupted: run it again")
	}
	if err != nil {
		return m, err
	}
	if err := json.Unmarshal(text, &m); err != nil {
		return m, fmt.Errorf("read %s: %w", manifestName, err)
	}
	return m, m.sound()
}

// sound refuses names of files that lead out of the publication.
func (m manifest) sound() error {
	for name := range m.names() {
		if !filepath.IsLocal(filepath.FromSlash(name)) || strings.ContainsAny(name, "{}*?\\'\n,") {
			return fmt.Errorf("read %s: it names a file %q that no publish writes", manifestName, name)
		}
	}
	return nil
}
