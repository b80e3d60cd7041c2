package lake

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"time"

	"github.com/apache/arrow-go/v18/arrow"

	"dynolake/schema"
)

// Keys of the metadata that each Parquet file carries. Together they are enough to make the catalogue anew.
const (
	keyFormat  = "dynolake.format"
	keyTable   = "dynolake.table"
	keyCommit  = "dynolake.commit"
	keyOwners  = "dynolake.owners"
	keyColumns = "dynolake.columns"
)

// footer is what a file says of itself.
type footer struct {
	Format int
	Table  string
	Commit commit
	Owners []ownerFact
}

// commit names the save that wrote a file. Every small file of a save tells what the save consists of.
type commit struct {
	Number   int64      `json:"number"` // The snapshot's id.
	Name     string     `json:"name"`   // Told apart from an interrupted commit of the same number by it.
	Parent   string     `json:"parent"` // The name of the commit before it.
	At       time.Time  `json:"at"`
	Files    []fileFact `json:"files,omitempty"`    // All files of the commit; checksums of those written before this one.
	Replaces []string   `json:"replaces,omitempty"` // Files that are live no more.
}

// fileFact is a file as the catalogue holds it.
type fileFact struct {
	Path   string           `json:"path"`
	SHA256 string           `json:"sha256,omitempty"`
	Bytes  int64            `json:"bytes,omitempty"`
	Rows   int64            `json:"rows,omitempty"`
	Table  string           `json:"-"`
	Month  string           `json:"-"`
	Added  int64            `json:"-"` // The commit's number.
	Owners map[string]int64 `json:"-"`
}

// ownerFact says what rows of a file belong to. In runs and findings it carries what else the catalogue keeps of the owner.
type ownerFact struct {
	Owner       string           `json:"owner"`
	Rows        int64            `json:"rows"`
	Fingerprint string           `json:"fingerprint,omitempty"`
	Depends     string           `json:"depends,omitempty"`
	Blobs       []string         `json:"blobs,omitempty"`
	Parts       map[string]int64 `json:"parts,omitempty"`  // Of a run: its rows in every table.
	Digest      string           `json:"digest,omitempty"` // Of a refusal.
}

// metadata writes a footer out.
func (f footer) metadata(columns []schema.Column) (arrow.Metadata, error) {
	type said struct {
		Name      string `json:"name"`
		ID        int    `json:"id"`
		Unit      string `json:"unit,omitempty"`
		Reference string `json:"reference,omitempty"`
		Meaning   string `json:"meaning"`
	}
	list := make([]said, len(columns))
	for i, c := range columns {
		list[i] = said{c.Name, c.ID, c.Unit, string(c.Reference), c.Meaning}
	}
	pairs := map[string]string{keyFormat: strconv.Itoa(Format), keyTable: f.Table}
	for key, v := range map[string]any{keyCommit: f.Commit, keyOwners: f.Owners, keyColumns: list} {
		text, err := json.Marshal(v)
		if err != nil {
			return arrow.Metadata{}, fmt.Errorf("write metadata: %w", err)
		}
		key, value, err := pack(key, text)
		if err != nil {
			return arrow.Metadata{}, fmt.Errorf("write metadata: %w", err)
		}
		pairs[key] = value
	}
	keys := slices.Sorted(maps.Keys(pairs))
	values := make([]string, len(keys))
	for i, k := range keys {
		values[i] = pairs[k]
	}
	return arrow.NewMetadata(keys, values), nil
}

// parseFooter reads a footer back through lookup, which finds a key's value.
func parseFooter(lookup func(string) (string, bool)) (footer, error) {
	var f footer
	for _, part := range []struct {
		key  string
		into any
	}{{keyFormat, &f.Format}, {keyCommit, &f.Commit}, {keyOwners, &f.Owners}} {
		text, err := unpack(part.key, lookup)
		if err != nil {
			return footer{}, err
		}
		if err := json.Unmarshal(text, part.into); err != nil {
			return footer{}, fmt.Errorf("read metadata %q: %w", part.key, err)
		}
	}
	f.Table, _ = lookup(keyTable)
	if f.Format > Format {
		return footer{}, fmt.Errorf("format %d, this program reads up to %d: use a newer dynolake", f.Format, Format)
	}
	return f, nil
}
