package publish

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"slices"

	"dynolake/pipeline/publish/store"
)

// Stated is a small table that the lake's configuration states, such as its vehicles, as one Parquet file.
type Stated struct {
	Name    string
	Columns []StatedColumn
	Rows    int64
	Content []byte
}

// StatedColumn is a column of it.
type StatedColumn struct{ Name, Type, Unit, Meaning string }

// stated stores a stated table unless the published one is the same. Its file is named by its content.
func (p *publication) stated(ctx context.Context, s Stated, old manifest) (manifestTable, Moved, error) {
	sum := sha256.Sum256(s.Content)
	f := manifestFile{Path: s.Name + "/stated-" + hex.EncodeToString(sum[:8]) + ".parquet", Rows: s.Rows, Bytes: int64(len(s.Content))}
	t := manifestTable{Rows: f.Rows, Bytes: f.Bytes, Files: []manifestFile{f}}
	for _, c := range s.Columns {
		t.Columns = append(t.Columns, manifestColumn{Name: c.Name, Type: c.Type, Unit: c.Unit, Meaning: c.Meaning})
	}
	was := old.Tables[s.Name].Files
	m := Moved{Table: s.Name, Files: 1, Rows: f.Rows, Bytes: f.Bytes, Pointer: p.location + "/" + s.Name + "/*.parquet"}
	if slices.Contains(was, f) {
		return t, m, nil
	}
	m.Added, m.Copied, m.Gone = 1, f.Bytes, int64(len(was))
	return t, m, store.PutBytes(ctx, p.store, f.Path, s.Content)
}
