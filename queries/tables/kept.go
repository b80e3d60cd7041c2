package tables

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"path/filepath"

	"dynolake/queries/engine"
	"dynolake/queries/packs"
	"dynolake/queries/result"
)

// Kept gives the answer to a pack's statement from the tables, where one holds what computing it now would give: its basis is that of the inputs, and
// the file is byte for byte the one that the books speak of. Else it gives false: the answer is to be computed.
func (in Inputs) Kept(ctx context.Context, root string, p *packs.Pack, statement string, books map[string]Book) (*result.Rows, bool) {
	for name, b := range books {
		if b.Query != p.Name || b.Statement != statementMark(statement) || b.Basis != in.basis(statement, p.Units(), b.Reads) {
			continue
		}
		if rows, ok := b.rows(ctx, filepath.Join(root, Folder, name+".parquet")); ok {
			return rows, true
		}
	}
	return nil, false
}

// statementMark stands for a statement, the macros in it and how tables are written.
func statementMark(statement string) string { return short(Version + engine.MacrosSQL() + statement) }

// rows opens a table's file; false when it is another one, damaged, or does not hold its values as they were.
func (b Book) rows(ctx context.Context, path string) (*result.Rows, bool) {
	f, err := os.Open(path)
	if err != nil {
		return nil, false
	}
	sum := sha256.New()
	if _, err := io.Copy(sum, f); err == nil && hex.EncodeToString(sum.Sum(nil)) == b.Parquet {
		if rows, err := result.ReadParquet(ctx, f, b.Columns); err == nil {
			return rows, true
		}
	}
	_ = f.Close() // It was only read.
	return nil, false
}
