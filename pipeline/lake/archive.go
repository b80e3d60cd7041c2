package lake

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"math/bits"
	"os"
	"path"
	"path/filepath"
	"regexp"

	"github.com/klauspost/compress/zstd"
)

// Blob is archived bytes.
type Blob struct {
	SHA256 string // Of the bytes as given; their name in the archive.
	Size   int64  // Of the bytes as given.
	stored int64
}

var sha256Form = regexp.MustCompile(`^[0-9a-f]{64}$`)

func blobPath(sha string) string { return path.Join("archive", sha[:2], sha+".zst") }

// Archive stores bytes under their SHA-256, once: bytes that are there already change nothing. They are read in a stream
// and kept compressed. They count as the lake's own when a Commit names them.
func (w *Writer) Archive(ctx context.Context, r io.Reader) (Blob, error) {
	s := w.lake.saver()
	var b Blob
	sum, count := sha256.New(), &counter{}
	_, err := s.Save("archive", func(out io.Writer) error {
		z, err := w.lake.coders.encoder(out)
		if err != nil {
			return err
		}
		defer w.lake.coders.keep(z)
		if _, err := io.Copy(io.MultiWriter(z, sum, count), within{ctx, r}); err != nil {
			return errors.Join(err, z.Close())
		}
		return z.Close()
	}, func(out stored) (string, error) {
		b = Blob{SHA256: hex.EncodeToString(sum.Sum(nil)), Size: count.n, stored: out.Bytes}
		name := blobPath(b.SHA256)
		if there, err := sumFile(ctx, filepath.Join(w.lake.root, name)); err == nil && there == out.SHA256 {
			s.dirs[path.Dir(name)] = true // It may be left by a writer that died before the name was durable.
			return "", s.mkdir(path.Dir(name))
		} else if err == nil {
			if was, err := w.lake.measureBlob(ctx, b.SHA256); err == nil && frameHead(filepath.Join(w.lake.root, name), b.Size) == nil {
				b.stored, s.dirs[path.Dir(name)] = was.stored, true // Packed otherwise, by another release: as good.
				return "", s.mkdir(path.Dir(name))
			}
		}
		return name, nil // New, or in place of a damaged file.
	})
	if err == nil {
		err = s.Flush()
	}
	if err != nil {
		return Blob{}, fmt.Errorf("archive: %w", err)
	}
	w.remember(b)
	return b, nil
}

func (w *Writer) remember(b Blob) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.archived[b.SHA256] = b
}

// ErrArchive is in the errors of reading archived bytes that are missing or are not what was stored.
var ErrArchive = errors.New("the archive is damaged there")

// Archived reports whether the catalogue knows archived bytes and their file is in place. It looks at the file's size alone.
func (l *Lake) Archived(ctx context.Context, sha string) (bool, error) {
	var size int64
	err := l.db.QueryRowContext(ctx, `SELECT stored FROM blobs WHERE sha256 = ?`, sha).Scan(&size)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	if err != nil {
		return false, fmt.Errorf("read the catalogue: %w", err)
	}
	info, err := os.Stat(filepath.Join(l.root, blobPath(sha)))
	return err == nil && info.Size() == size, nil
}

// OpenArchive reads archived bytes. Reading fails at the end, with what differs, when they are not what was stored.
func (l *Lake) OpenArchive(sha string) (io.ReadCloser, error) {
	if !sha256Form.MatchString(sha) {
		return nil, fmt.Errorf("open archive: %q is no SHA-256 in 64 hex digits", sha)
	}
	f, err := os.Open(filepath.Join(l.root, blobPath(sha)))
	if errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("read archive %s: there are no such bytes: %w", sha, ErrArchive)
	}
	if err != nil {
		return nil, fmt.Errorf("open archive: %w: %w", err, ErrArchive)
	}
	z, err := l.coders.decoder(f)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("open archive %s: %w", sha, err), f.Close())
	}
	return &blobReader{f: f, z: z, sum: sha256.New(), sha: sha, pool: l.coders}, nil
}

type blobReader struct {
	f    *os.File
	z    *zstd.Decoder // Nil when closed.
	sum  hash.Hash
	sha  string
	pool coders
}

func (b *blobReader) Read(p []byte) (int, error) {
	if b.z == nil {
		return 0, fmt.Errorf("read archive %s: %w", b.sha, os.ErrClosed)
	}
	n, err := b.z.Read(p)
	b.sum.Write(p[:n])
	switch {
	case errors.Is(err, io.EOF):
		if got := hex.EncodeToString(b.sum.Sum(nil)); got != b.sha {
			return n, fmt.Errorf("read archive %s: its bytes have SHA-256 %s: %w", b.sha, got, ErrArchive)
		}
	case err != nil:
		return n, fmt.Errorf("read archive %s: %w: %w", b.sha, err, ErrArchive)
	}
	return n, err
}

func (b *blobReader) Close() error {
	if b.z != nil {
		b.pool.release(b.z)
		b.z = nil
	}
	return b.f.Close()
}

// blob finds archived bytes by name: those of this writer, those of the catalogue, else those on disk, which are read.
func (w *Writer) blob(ctx context.Context, sha string) (Blob, error) {
	w.mu.Lock()
	b, ok := w.archived[sha]
	w.mu.Unlock()
	if ok {
		return b, nil
	}
	b = Blob{SHA256: sha}
	err := w.lake.db.QueryRowContext(ctx, `SELECT bytes, stored FROM blobs WHERE sha256 = ?`, sha).Scan(&b.Size, &b.stored)
	if errors.Is(err, sql.ErrNoRows) {
		b, err = w.lake.measureBlob(ctx, sha)
	}
	if err != nil {
		return Blob{}, fmt.Errorf("find archived bytes: %w: archive a source before the commit that names it", err)
	}
	w.remember(b)
	return b, nil
}

// measureBlob reads archived bytes whole and so proves them.
func (l *Lake) measureBlob(ctx context.Context, sha string) (b Blob, err error) {
	r, err := l.OpenArchive(sha)
	if err != nil {
		return Blob{}, err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	info, err := os.Stat(filepath.Join(l.root, blobPath(sha)))
	if err != nil {
		return Blob{}, fmt.Errorf("open archive: %w", err)
	}
	n, err := io.Copy(io.Discard, within{ctx, r})
	return Blob{SHA256: sha, Size: n, stored: info.Size()}, err
}

// frameHead looks at what an archived file says before its content, of which a flipped bit may leave the content readable: bits
// that are always zero, and how much a reader has to hold where it is said (RFC 8878, 3.1.1.1). The writer says 8 MiB of what it
// streams, and of what fits into one block the power of two above its size, at least 1 KiB.
func frameHead(path string, size int64) (err error) {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	var head [6]byte
	if _, err := io.ReadFull(f, head[:]); err != nil {
		return fmt.Errorf("its head is cut short: %w", err)
	}
	const zero, single, least, streamed = 0x18, 0x20, 10, 23
	window := func(log int) byte { return byte(log-least) << 3 }
	fits := window(max(least, bits.Len64(uint64(size))))
	if d, w := head[4], head[5]; d&zero != 0 || d&single == 0 && w != window(streamed) && w != fits {
		return fmt.Errorf("its head is damaged: it says % x", head[4:])
	}
	return nil
}

// within stops a copy when the context ends.
type within struct {
	ctx context.Context
	r   io.Reader
}

func (r within) Read(p []byte) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	return r.r.Read(p)
}
