package lake

import (
	"encoding/base64"
	"fmt"

	"github.com/klauspost/compress/zstd"
)

// A metadata value longer than packFrom is stored compressed, under its key with packedKey after it: every reader of a file
// reads its footer whole, and what a thousand runs depend on says the same over and over.
const (
	packFrom  = 1 << 14
	packedKey = ".zst"
	packLimit = 1 << 30 // No footer unpacks to more.
)

// pack gives the key and the value to store a metadata text under.
func pack(key string, text []byte) (string, string, error) {
	if len(text) < packFrom {
		return key, string(text), nil
	}
	enc, err := zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1))
	if err != nil {
		return "", "", err
	}
	return key + packedKey, base64.StdEncoding.EncodeToString(enc.EncodeAll(text, nil)), enc.Close()
}

// unpack finds a metadata text, packed or plain.
func unpack(key string, lookup func(string) (string, bool)) ([]byte, error) {
	if text, ok := lookup(key); ok {
		return []byte(text), nil
	}
	packed, ok := lookup(key + packedKey)
	if !ok {
		return nil, fmt.Errorf("no metadata %q: the file is none of a lake's", key)
	}
	bytes, err := base64.StdEncoding.DecodeString(packed)
	if err != nil {
		return nil, fmt.Errorf("read metadata %q: %w", key+packedKey, err)
	}
	dec, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(packLimit))
	if err != nil {
		return nil, err
	}
	defer dec.Close()
	text, err := dec.DecodeAll(bytes, nil)
	if err != nil {
		return nil, fmt.Errorf("read metadata %q: %w", key+packedKey, err)
	}
	return text, nil
}
