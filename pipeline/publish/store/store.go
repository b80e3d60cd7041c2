package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"net/url"
	"strings"
	"time"

	"dynolake/pipeline/disk"
)

// ErrNone is returned where a name has no file, ErrTaken by Create where it has one.
var (
	ErrNone  = errors.New("no such file")
	ErrTaken = errors.New("the name is taken")
)

// Store holds files by name. Its methods are safe for several goroutines.
type Store interface {
	// Read gives a small file whole. It fails with ErrNone.
	Read(ctx context.Context, name string) ([]byte, error)
	// Put stores size bytes under a name, in place of what is there.
	Put(ctx context.Context, name string, from io.Reader, size int64) error
	// Create stores a small file under a name that is free. It fails with ErrTaken.
	Create(ctx context.Context, name string, content []byte) error
	// Remove takes a file away; one that is not there is no error.
	Remove(ctx context.Context, name string) error
	// Stat tells of one file. It fails with ErrNone.
	Stat(ctx context.Context, name string) (Info, error)
	// List visits every file whose name begins with prefix.
	List(ctx context.Context, prefix string) iter.Seq2[Info, error]
	// URI is where readers find what is stored, without a slash at its end.
	URI() string
	// Close lets go of it.
	Close() error
}

// Info tells of a stored file.
type Info struct {
	Name  string
	Bytes int64
	At    time.Time // When it was stored, on the store's own clock.
}

// Open opens a destination: a folder, or s3://bucket/prefix with the settings that env names. A folder that is missing is
// made by the first write.
func Open(dest string, env func(string) string) (Store, error) { return OpenOn(dest, env, disk.OS()) }

// OpenOn opens a destination; a folder is written to by way of d.
func OpenOn(dest string, env func(string) string, d disk.Disk) (Store, error) {
	scheme, rest, ok := strings.Cut(dest, "://")
	if !ok {
		return openFolder(dest, d)
	}
	switch strings.ToLower(scheme) {
	case "file":
		return openFolder(rest, d)
	case "s3":
		bucket, prefix, _ := strings.Cut(rest, "/")
		if strings.ContainsAny(bucket, "@:") { // Not repeated in the message: it may be a key.
			return nil, errors.New("read the destination: keys do not belong into s3://bucket/prefix: put them into AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY")
		}
		if u, err := url.Parse("s3://" + bucket); err != nil || u.Host == "" {
			return nil, errors.New("read the destination: want s3://bucket/prefix")
		}
		return openBucket(bucket, strings.Trim(prefix, "/"), env)
	}
	return nil, fmt.Errorf("read the destination: %q is no kind of store: want a folder or s3://bucket/prefix", scheme)
}

// PutBytes stores a small file in place of what is there.
func PutBytes(ctx context.Context, s Store, name string, content []byte) error {
	return s.Put(ctx, name, strings.NewReader(string(content)), int64(len(content)))
}
