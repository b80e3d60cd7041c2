package lake

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"dynolake/pipeline/disk"
)

// references holds tables against each other and against the catalogue. It needs what a full look at the files counted.
func (v *verifying) references() error {
	if v.quick || Faults(v.problems) > 0 {
		return nil // What is missing already is said; its references would only say it again.
	}
	known, err := v.lake.Runs(v.ctx)
	if err != nil {
		return err
	}
	for _, id := range slices.Sorted(maps.Keys(known)) {
		switch n := v.runs["runs"][id]; {
		case n != 1:
			v.find("", "", "run %s has %d rows in runs, want 1", id, n)
		case v.runs["samples"][id] != v.claimed[id]:
			v.find("", "", "run %s has %d rows in samples, want %d", id, v.runs["samples"][id], v.claimed[id])
		}
	}
	for _, table := range slices.Sorted(maps.Keys(v.runs)) {
		for _, id := range slices.Sorted(maps.Keys(v.runs[table])) {
			if _, ok := known[id]; !ok && !sha256Form.MatchString(id) {
				v.find("", "", "%s has rows of run %q, which is in no catalogue", table, id)
			}
		}
	}
	return nil
}

// archive looks at every archived source, and that every source of a run is archived.
func (v *verifying) archive() error {
	var err error
	if v.blobs, err = v.lake.blobs(v.ctx); err != nil {
		return err
	}
	for _, sha := range slices.Sorted(maps.Keys(v.sources)) {
		if _, ok := v.blobs[sha]; !ok {
			v.find("", "ingest the same log again", "a source of run %s, SHA-256 %s, is not in the archive", v.sources[sha], sha)
		}
	}
	for _, sha := range slices.Sorted(maps.Keys(v.blobs)) {
		if err := v.ctx.Err(); err != nil {
			return err
		}
		v.blob(v.blobs[sha])
	}
	return nil
}

func (v *verifying) blob(b Blob) {
	name := blobPath(b.SHA256)
	loss := "costs the source's bytes: run dynolake verify --rebuild, then ingest the same log again"
	if run, ok := v.sources[b.SHA256]; ok {
		loss = fmt.Sprintf("costs source bytes of run %s, its tables stay: run dynolake verify --rebuild, then ingest the same log again", run)
	}
	info, err := os.Stat(filepath.Join(v.lake.root, name))
	switch {
	case err != nil:
		v.find(name, loss, "missing: %v", err)
		return
	case v.quick && info.Size() == b.stored:
		return
	}
	got, err := v.lake.measureBlob(v.ctx, b.SHA256)
	if err != nil {
		v.find(name, loss, "%v", err)
	} else if got.Size != b.Size {
		v.find(name, loss, "holds %d bytes, want %d", got.Size, b.Size)
	} else if err := frameHead(filepath.Join(v.lake.root, name), got.Size); err != nil {
		v.find(name, "costs nothing yet, for its bytes are whole: unpack it, remove it and ingest the unpacked file", "%v", err)
	}
}

// blobs gives the archived bytes that the catalogue knows.
func (l *Lake) blobs(ctx context.Context) (map[string]Blob, error) {
	blobs := map[string]Blob{}
	err := query(ctx, l.db, func(r *sql.Rows) error {
		var b Blob
		err := r.Scan(&b.SHA256, &b.Size, &b.stored)
		blobs[b.SHA256] = b
		return err
	}, `SELECT sha256, bytes, stored FROM blobs`)
	return blobs, err
}

// strangers names files that are in no snapshot: what an interrupted save left, and what is none of the lake's.
func (v *verifying) strangers() error {
	type found struct{ path, name string }
	var list []found
	err := v.lake.walk(func(path string, d os.DirEntry) error {
		list = append(list, found{path, d.Name()})
		return nil
	})
	if err != nil {
		return err
	}
	known, err := v.lake.paths(v.ctx) // After the folders: what a writer adds meanwhile is known then.
	if err != nil {
		return err
	}
	newest, err := v.lake.newest(v.ctx)
	if err != nil {
		return err
	}
	older := int64(0)
	for _, f := range list {
		n, later := beyond(f.path, newest)
		switch {
		case known[f.path]:
		case later:
			older = max(older, n)
		case strings.HasPrefix(f.name, disk.TempPrefix):
			v.note(f.path, "left by an interrupted save; the next writer removes it")
		case strings.HasPrefix(f.name, "."):
			v.note(f.path, "is no part of the lake")
		case ours.MatchString(f.path):
			v.note(f.path, "in no snapshot: superseded, or left by an interrupted commit; a later writer removes it")
		default:
			v.find(f.path, "costs nothing, no reader uses it: move it away", "is no part of the lake")
		}
	}
	if older > 0 {
		v.find(catalogueName, "costs all that was stored since: "+anew, "is older than the lake's files, or another lake's: it ends with snapshot %d, and there are files of commit %d", newest, older)
	}
	return v.strangeBlobs()
}

func (v *verifying) strangeBlobs() error {
	blobs, err := v.lake.blobs(v.ctx)
	if err != nil {
		return err
	}
	archive := filepath.Join(v.lake.root, "archive")
	return filepath.WalkDir(archive, func(full string, d os.DirEntry, err error) error {
		if errors.Is(err, os.ErrNotExist) && full == archive {
			return nil // Every blob in it is named by now.
		}
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(v.lake.root, full)
		if err != nil {
			return err
		}
		path := filepath.ToSlash(rel)
		sha, ok := strings.CutSuffix(d.Name(), ".zst")
		ok = ok && sha256Form.MatchString(sha) && path == blobPath(sha)
		if _, known := blobs[sha]; ok && known {
			return nil
		}
		switch {
		case ok:
			v.strangeBlob(path, sha)
		case strings.HasPrefix(d.Name(), disk.TempPrefix):
			v.note(path, "left by an interrupted save; the next writer removes it")
		case strings.HasPrefix(d.Name(), "."):
			v.note(path, "is no part of the lake")
		default:
			v.find(path, "costs nothing, no run needs it: move it away", "is no part of the archive")
		}
		return nil
	})
}

// strangeBlob looks at archived bytes that no commit named.
func (v *verifying) strangeBlob(path, sha string) {
	if !v.quick {
		if _, err := v.lake.measureBlob(v.ctx, sha); err != nil {
			v.find(path, "costs nothing, no run needs it: move it away", "%v", err)
			return
		}
	}
	v.note(path, "archived bytes that belong to no run")
}
