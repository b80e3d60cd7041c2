package columnar

import (
	"fmt"
	"sync"

	"github.com/apache/arrow-go/v18/parquet/compress"
	"github.com/klauspost/compress/snappy"
	"github.com/klauspost/compress/zstd"
)

// A page says twice how large it is unpacked: in its header, which the allocator holds to a bound, and in the packed bytes, which the library's decoders
// believe: 1.7 kB took 350 MB. So packed bytes that claim more than the header are refused before anything is made for them.
func init() {
	zstds := sync.OnceValues(func() (*zstd.Decoder, error) { return zstd.NewReader(nil, zstd.WithDecodeAllCapLimit(true)) })
	compress.RegisterCodec(compress.Codecs.Zstd, held{own(compress.Codecs.Zstd), func(dst, src []byte) ([]byte, error) {
		d, err := zstds()
		if err != nil {
			return nil, err
		}
		return d.DecodeAll(src, dst[:0])
	}})
	compress.RegisterCodec(compress.Codecs.Snappy, held{own(compress.Codecs.Snappy), unsnapped})
}

// codec is what the library asks of one.
type codec interface {
	compress.Codec
	compress.StreamingCodec
}

func own(c compress.Compression) codec {
	found, err := compress.GetCodec(c)
	own, ok := found.(codec)
	if err != nil || !ok {
		panic(fmt.Sprintf("the Parquet library has no codec %v: %v", c, err)) // It always has.
	}
	return own
}

func unsnapped(dst, src []byte) ([]byte, error) {
	n, err := snappy.DecodedLen(src)
	if err == nil && n > cap(dst) {
		err = fmt.Errorf("it claims %d bytes, and its header %d", n, len(dst))
	}
	if err != nil {
		return nil, fmt.Errorf("unpack a page: %w", err)
	}
	return snappy.Decode(dst[:cap(dst)], src)
}

// held is one of the library's codecs, with a decoder that makes no more than it is given room for.
type held struct {
	codec
	decode func(dst, src []byte) ([]byte, error)
}

func (h held) DecodeWithError(dst, src []byte) ([]byte, error) { return h.decode(dst, src) }

func (h held) Decode(dst, src []byte) []byte {
	out, err := h.decode(dst, src)
	if err != nil {
		panic(err) // As the library's own do, and recover from.
	}
	return out
}
