package iceberg

import (
	"bytes"
	"compress/flate"
	_ "embed" // The records' schemas.
	"errors"
	"io"
	"sync"

	"github.com/twmb/avro"
	"github.com/twmb/avro/ocf"
)

// The records of manifests and of manifest lists, with the specification's field ids. The partition of a manifest's data
// files is byMonth's.
var (
	//go:embed manifest.avsc
	manifestText string
	//go:embed list.avsc
	listText string

	manifestSchema = sync.OnceValues(func() (*avro.Schema, error) { return avro.Parse(manifestText) })
	listSchema     = sync.OnceValues(func() (*avro.Schema, error) { return avro.Parse(listText) })
)

// writeAvro gives an Avro object container file of records, with notes in its head.
func writeAvro[T any](form func() (*avro.Schema, error), notes map[string]string, records []T) ([]byte, error) {
	s, err := form()
	if err != nil {
		return nil, err
	}
	head := make(map[string][]byte, len(notes))
	for key, text := range notes {
		head[key] = []byte(text)
	}
	var file bytes.Buffer
	out, err := ocf.NewWriter(&file, s, ocf.WithSchema(s.String()), ocf.WithMetadata(head), ocf.WithCodec(ocf.DeflateCodec(flate.DefaultCompression)))
	if err != nil {
		return nil, err
	}
	for i := range records {
		if err := out.Encode(&records[i]); err != nil {
			return nil, errors.Join(err, out.Close())
		}
	}
	if err := out.Close(); err != nil { // It writes the last block.
		return nil, err
	}
	return file.Bytes(), nil
}

// readAvro reads one back. Fields are matched by name, so that a record of another writer, or of an older form, is understood.
func readAvro[T any](form func() (*avro.Schema, error), file []byte) (records []T, err error) {
	s, err := form()
	if err != nil {
		return nil, err
	}
	in, err := ocf.NewReader(bytes.NewReader(file), ocf.WithReaderSchema(s))
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, in.Close()) }()
	for {
		var r T
		if err := in.Decode(&r); errors.Is(err, io.EOF) {
			return records, nil
		} else if err != nil {
			return nil, err
		}
		records = append(records, r)
	}
}
