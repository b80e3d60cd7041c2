package publish

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"

	"golang.org/x/sync/errgroup"

	"dynolake/pipeline/lake"
)

// atOnce is how many files are moved at a time.
const atOnce = 4

// moved is a piece that the destination has.
type moved struct {
	piece
	local string // A file here with the same content, as long as look runs.
	bytes int64
	taken bool // An interrupted publish stored it.
}

// move stores pieces and hands each to look. What was stored before, by its name and size, is not moved again. The result is
// in the order of the pieces.
func (p *publication) move(ctx context.Context, s lake.State, list []piece, look func(*moved) error) ([]moved, error) {
	if len(list) == 0 {
		return nil, nil
	}
	there, err := p.left(ctx, list[0].table+"/")
	if err != nil {
		return nil, err
	}
	out := make([]moved, len(list))
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(atOnce)
	var mu sync.Mutex
	for i, piece := range list {
		group.Go(func() error {
			m := moved{piece: piece}
			size, ok := there[piece.name]
			m.taken = ok && piece.owners == nil && size == piece.from.Bytes
			if err := p.one(ctx, s, &m, look); err != nil {
				return fmt.Errorf("copy %s: %w", piece.from.Path, err)
			}
			out[i] = m
			mu.Lock()
			defer mu.Unlock()
			p.done++
			if p.options.Step != nil {
				p.options.Step(p.done, p.total)
			}
			return nil
		})
	}
	return out, group.Wait()
}

// one stores a piece.
func (p *publication) one(ctx context.Context, s lake.State, m *moved, look func(*moved) error) (err error) {
	if err := ctx.Err(); err != nil {
		return err
	}
	if m.owners != nil {
		temp, err := extract(ctx, s, m.piece)
		if err != nil {
			return gone(err)
		}
		defer func() { _ = os.Remove(temp) }() // Among the system's temporary files, which it clears.
		m.local = temp
		return errors.Join(p.put(ctx, m, ""), look(m))
	}
	m.local = filepath.Join(s.Root, filepath.FromSlash(m.from.Path))
	m.bytes = m.from.Bytes
	if !m.taken {
		if err := p.put(ctx, m, m.from.SHA256); err != nil {
			return gone(err)
		}
	}
	return gone(look(m))
}

// gone explains a file of the lake that is not there any more.
func gone(err error) error {
	if errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("the lake replaced it meanwhile, and its time is over: run publish again, which goes on from here: %w", err)
	}
	return err
}

// put copies a local file into the store and holds it to its checksum where that is known.
func (p *publication) put(ctx context.Context, m *moved, sum string) (err error) {
	f, err := os.Open(m.local)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	m.bytes = info.Size()
	hash := sha256.New()
	if sum != "" && m.bytes != m.from.Bytes {
		return fmt.Errorf("found %d bytes, and the catalogue has %d: the file is damaged: run dynolake verify", m.bytes, m.from.Bytes)
	}
	if err := p.store.Put(ctx, m.name, io.TeeReader(f, hash), m.bytes); err != nil {
		return err
	}
	if found := hex.EncodeToString(hash.Sum(nil)); sum != "" && found != sum {
		return errors.Join(errors.New("its bytes are not those of the catalogue's checksum: the file is damaged: run dynolake verify"), p.store.Remove(ctx, m.name))
	}
	return nil
}

// extract writes a piece's rows into a temporary file.
func extract(ctx context.Context, s lake.State, m piece) (path string, err error) {
	f, err := os.CreateTemp("", "dynolake-publish-*.parquet")
	if err != nil {
		return "", err
	}
	err = errors.Join(s.Extract(ctx, m.table, m.from.Path, m.owners, f), f.Close())
	if err != nil {
		return "", errors.Join(err, os.Remove(f.Name()))
	}
	return f.Name(), nil
}
