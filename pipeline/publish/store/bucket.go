package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"strings"

	"github.com/minio/minio-go/v7"
)

// tries bounds how often a request is sent before its failure is told.
const tries = 4

// bucket is a store behind the S3 protocol.
type bucket struct {
	client       *minio.Client
	name, prefix string
}

func openBucket(name, prefix string, env func(string) string) (Store, error) {
	keys, err := keysOf(env)
	if err != nil {
		return nil, err
	}
	region := regionOf(env)
	u, given, err := endpointOf(env)
	if err != nil {
		return nil, err
	}
	lookup := minio.BucketLookupAuto
	if given {
		lookup = minio.BucketLookupPath
	}
	client, err := minio.New(u.Host, &minio.Options{Creds: keys, Secure: u.Scheme == "https", Region: region, BucketLookup: lookup, MaxRetries: tries})
	if err != nil {
		return nil, errors.New("open the store: read AWS_ENDPOINT_URL and AWS_REGION: they name no S3 endpoint")
	}
	return &bucket{client: client, name: name, prefix: prefix}, nil
}

func (b *bucket) URI() string {
	return strings.TrimSuffix("s3://"+b.name+"/"+b.prefix, "/")
}

func (b *bucket) Close() error { return nil }

func (b *bucket) key(name string) string {
	if b.prefix == "" {
		return name
	}
	return b.prefix + "/" + name
}

func (b *bucket) Read(ctx context.Context, name string) ([]byte, error) {
	o, err := b.client.GetObject(ctx, b.name, b.key(name), minio.GetObjectOptions{})
	if err != nil {
		return nil, b.fault("read "+name, err)
	}
	content, err := io.ReadAll(o)
	_ = o.Close() // It was read only.
	if err != nil {
		return nil, b.fault("read "+name, err)
	}
	return content, nil
}

func (b *bucket) Put(ctx context.Context, name string, from io.Reader, size int64) error {
	_, err := b.client.PutObject(ctx, b.name, b.key(name), from, size, minio.PutObjectOptions{SendContentMd5: true})
	return b.fault("write "+name, err)
}

func (b *bucket) Create(ctx context.Context, name string, content []byte) error {
	if _, err := b.Stat(ctx, name); err == nil {
		return fmt.Errorf("write %s: %w", name, ErrTaken)
	} else if !errors.Is(err, ErrNone) {
		return err
	}
	o := minio.PutObjectOptions{SendContentMd5: true, DisableMultipart: true}
	o.SetMatchETagExcept("*")
	_, err := b.client.PutObject(ctx, b.name, b.key(name), bytes.NewReader(content), int64(len(content)), o)
	return b.fault("write "+name, err)
}

func (b *bucket) Remove(ctx context.Context, name string) error {
	err := b.fault("remove "+name, b.client.RemoveObject(ctx, b.name, b.key(name), minio.RemoveObjectOptions{}))
	if errors.Is(err, ErrNone) {
		return nil
	}
	return err
}

func (b *bucket) Stat(ctx context.Context, name string) (Info, error) {
	o, err := b.client.StatObject(ctx, b.name, b.key(name), minio.StatObjectOptions{})
	if err != nil {
		return Info{}, b.fault("look at "+name, err)
	}
	return Info{Name: name, Bytes: o.Size, At: o.LastModified}, nil
}

func (b *bucket) List(ctx context.Context, prefix string) iter.Seq2[Info, error] {
	return func(yield func(Info, error) bool) {
		ctx, cancel := context.WithCancel(ctx)
		defer cancel()
		full := b.key(prefix)
		for o := range b.client.ListObjects(ctx, b.name, minio.ListObjectsOptions{Prefix: full, Recursive: true}) {
			if o.Err != nil {
				yield(Info{}, b.fault("list", o.Err))
				return
			}
			name := strings.TrimPrefix(strings.TrimPrefix(o.Key, b.prefix), "/")
			if !yield(Info{Name: name, Bytes: o.Size, At: o.LastModified}, nil) {
				return
			}
		}
	}
}
