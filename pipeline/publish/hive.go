package publish

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"path"
	"slices"
	"strings"
	"time"

	"dynolake/pipeline/lake"
	"dynolake/pipeline/publish/store"
	"dynolake/schema"
)

const (
	manifestName = "manifest.json"
	versions     = "_manifests/"   // Holds each manifest once more, under its number: its creation is the commit.
	emptyMonth   = "month=0000-00" // Holds a file without rows and with all columns, the first by name, for readers that take columns from there.
)

// manifest is the pointer of plain Parquet: every live file of one snapshot of the lake.
type manifest struct {
	Version  int                      `json:"version"`
	Snapshot int64                    `json:"snapshot"`
	Name     string                   `json:"name"`
	Tables   map[string]manifestTable `json:"tables"`
}

type manifestTable struct {
	Rows    int64            `json:"rows"`
	Bytes   int64            `json:"bytes"`
	Columns []manifestColumn `json:"columns"`
	Files   []manifestFile   `json:"files"` // Of the table's rows; the file without any is not among them.
	Empty   string           `json:"empty"` // That one.
}

type manifestColumn struct {
	Name    string `json:"name"`
	ID      int    `json:"id"` // 0 in a table that is stated, whose columns are known by name.
	Type    string `json:"type"`
	Unit    string `json:"unit,omitempty"`
	Meaning string `json:"meaning"`
}

type manifestFile struct {
	Path  string `json:"path"`
	Month string `json:"month"`
	Rows  int64  `json:"rows"`
	Bytes int64  `json:"bytes"`
}

// parquet publishes plain files: new ones first, then the manifest, then the old ones go.
func (p *publication) parquet(ctx context.Context, l *lake.Lake) (Report, error) {
	old, since, err := p.newest(ctx)
	if err != nil {
		return Report{}, err
	}
	s, err := l.State(ctx)
	if err != nil {
		return Report{}, err
	}
	if err := of(s, old.Snapshot, old.Name); err != nil {
		return Report{}, err
	}
	now := manifest{Version: old.Version + 1, Snapshot: s.ID, Name: s.Name, Tables: map[string]manifestTable{}}
	r := Report{Snapshot: s.ID, URI: p.location}
	adds := map[string][]piece{}
	for _, def := range order() {
		adds[def.Name], _ = difference(pieces(def.Name, def.Name, s.Tables[def.Name]), old.files(def.Name))
		p.total += len(adds[def.Name])
	}
	var taken []string
	for _, def := range order() {
		t, m, reused, err := p.table(ctx, s, def, old, adds[def.Name])
		if err != nil {
			return Report{}, err
		}
		now.Tables[def.Name], r.Tables, taken = t, append(r.Tables, m), append(taken, reused...)
	}
	for _, given := range p.options.Stated {
		t, m, err := p.stated(ctx, given, old)
		if err != nil {
			return Report{}, err
		}
		now.Tables[given.Name], r.Tables = t, append(r.Tables, m)
	}
	if err := still(ctx, p.store, taken); err != nil {
		return Report{}, err
	}
	if now.same(old) { // A publisher that died may have left the pointer to move and files to clear.
		return r, errors.Join(p.point(ctx, manifestName, old), p.clear(ctx, old, old, since))
	}
	text, err := json.MarshalIndent(now, "", " ")
	if err != nil {
		return Report{}, err
	}
	if err := p.store.Create(ctx, now.path(), text); err != nil {
		return Report{}, err
	}
	if err := p.point(ctx, manifestName, now); err != nil {
		return Report{}, err
	}
	return r, p.clear(ctx, old, now, since)
}

func (m manifest) path() string { return fmt.Sprintf("%s%08d.json", versions, m.Version) }

// same reports whether two manifests list the same files with the same columns.
func (m manifest) same(o manifest) bool {
	a, errA := json.Marshal(m.Tables)
	b, errB := json.Marshal(o.Tables)
	return errA == nil && errB == nil && bytes.Equal(a, b)
}

func (m manifest) files(table string) map[string]manifestFile {
	files := map[string]manifestFile{}
	for _, f := range m.Tables[table].Files {
		files[f.Path] = f
	}
	return files
}

// newest reads the newest manifest: from the pointer upwards, for a publisher may have died before it moved it. It tells
// what was stored before it, and so is no publisher's who has it before him; under a lock that is everything.
func (p *publication) newest(ctx context.Context) (m manifest, since time.Time, err error) {
	m, err = p.read(ctx, manifestName)
	for err == nil || errors.Is(err, store.ErrNone) {
		var next manifest
		if next, err = p.read(ctx, manifest{Version: m.Version + 1}.path()); errors.Is(err, store.ErrNone) {
			break
		}
		m = next
	}
	if err != nil && !errors.Is(err, store.ErrNone) {
		return m, since, err
	}
	if _, locked := p.store.(locker); locked {
		return m, p.options.Now().Add(time.Hour), nil
	}
	if m.Version == 0 {
		return m, since, nil
	}
	info, err := p.store.Stat(ctx, m.path())
	return m, info.At, err
}

func (p *publication) read(ctx context.Context, name string) (m manifest, err error) {
	text, err := p.store.Read(ctx, name)
	if err != nil {
		return m, err
	}
	if err := json.Unmarshal(text, &m); err != nil {
		return m, fmt.Errorf("read %s: %w", name, err)
	}
	return m, nil
}

// table stores a table's new files and lists all that it has now.
func (p *publication) table(ctx context.Context, s lake.State, def schema.Table, old manifest, add []piece) (t manifestTable, m Moved, taken []string, err error) {
	have := old.files(def.Name)
	want := pieces(def.Name, def.Name, s.Tables[def.Name])
	_, gone := difference(want, have)
	list, err := p.move(ctx, s, add, func(*moved) error { return nil })
	if err != nil {
		return t, m, nil, err
	}
	m = Moved{Table: def.Name, Added: int64(len(add)), Gone: int64(len(gone)), Pointer: p.location + "/" + def.Name + "/month=*/*.parquet"}
	for _, f := range list {
		have[f.name] = manifestFile{Path: f.name, Month: f.month, Rows: f.rows, Bytes: f.bytes}
		if f.taken {
			taken = append(taken, f.name)
		} else {
			m.Copied += f.bytes
		}
	}
	t = manifestTable{Files: []manifestFile{}}
	for _, w := range want {
		f := have[w.name]
		t.Files = append(t.Files, f)
		t.Rows += f.Rows
		t.Bytes += f.Bytes
	}
	for _, c := range def.Columns {
		t.Columns = append(t.Columns, manifestColumn{c.Name, c.ID, c.Type, c.Unit, c.Meaning})
	}
	m.Files, m.Rows, m.Bytes = int64(len(t.Files)), t.Rows, t.Bytes
	t.Empty, err = p.empty(ctx, def, old.Tables[def.Name].Empty)
	return t, m, taken, err
}

// empty stores the table's file without rows, unless the published one is the same.
func (p *publication) empty(ctx context.Context, def schema.Table, old string) (string, error) {
	var text bytes.Buffer
	if err := lake.Empty(def, &text); err != nil {
		return "", fmt.Errorf("write the columns of %s: %w", def.Name, err)
	}
	sum := sha256.Sum256(text.Bytes())
	name := path.Join(def.Name, emptyMonth, "columns-"+hex.EncodeToString(sum[:8])+".parquet")
	if name == old {
		return name, nil
	}
	return name, store.PutBytes(ctx, p.store, name, text.Bytes())
}

// clear removes what the manifest before named and this one does not, then what interrupted publishes left before it. Files
// that came after it may be another publisher's.
func (p *publication) clear(ctx context.Context, old, now manifest, since time.Time) error {
	live, was := now.names(), old.names()
	for _, name := range slices.Sorted(maps.Keys(was)) {
		if live[name] {
			continue
		}
		if err := p.store.Remove(ctx, name); err != nil {
			return err
		}
	}
	folders := []string{}
	for _, def := range order() {
		folders = append(folders, def.Name+"/month=")
	}
	for _, given := range p.options.Stated {
		folders = append(folders, given.Name+"/stated-")
	}
	for _, folder := range folders {
		for info, err := range p.store.List(ctx, folder) {
			if err != nil {
				return err
			}
			if !live[info.Name] && !was[info.Name] && info.At.Before(since) && strings.HasSuffix(info.Name, ".parquet") {
				if err := p.store.Remove(ctx, info.Name); err != nil {
					return err
				}
			}
		}
	}
	return p.store.Remove(ctx, manifest{Version: now.Version - 1}.path())
}

// names gives every file that a manifest names.
func (m manifest) names() map[string]bool {
	names := map[string]bool{}
	for _, t := range m.Tables {
		names[t.Empty] = true
		for _, f := range t.Files {
			names[f.Path] = true
		}
	}
	delete(names, "")
	return names
}
