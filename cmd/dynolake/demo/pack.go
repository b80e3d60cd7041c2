package demo

import (
	"bytes"
	"compress/gzip"
	"errors"
	"path"
	"strings"

	"github.com/klauspost/compress/zstd"
)

// pack packs a log of that name as the recorder's ending says; a log with another ending stays as it is.
func pack(name string, data []byte) ([]byte, error) {
	switch path.Ext(name) {
	case ".gz":
		var b bytes.Buffer
		w := gzip.NewWriter(&b)
		_, err := w.Write(data)
		err = errors.Join(err, w.Close())
		return b.Bytes(), err
	case ".zst":
		w, err := zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1))
		if err != nil {
			return nil, err
		}
		return w.EncodeAll(data, nil), w.Close()
	case ".zip":
		return zipped([2]string{strings.TrimSuffix(name, ".zip"), string(data)})
	}
	return data, nil
}
