package readtest

import (
	"bytes"
	"context"
	"encoding/binary"
	"runtime"
	"testing"

	"dynolake/schema"
)

// What a reader may allocate for bytes that it cannot trust: so much for any, and so many times their size beyond it.
const (
	freeBytes  = 64 << 20
	timesBytes = 64
)

// Sound checks that reading breaks no promise and takes no more memory than it may.
func Sound(t *testing.T, r schema.Reader, data []byte) {
	t.Helper()
	Bounded(t, data, func() {
		if err := Check(context.Background(), r, data); err != nil {
			t.Errorf("%v, reading %.200q", err, data)
		}
	})
}

// Bounded reads data and fails where that takes more memory than the stated multiple of it, all that was allocated counted,
// given back or not. It is for tests that do one thing at a time.
func Bounded(t *testing.T, data []byte, read func()) {
	t.Helper()
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	read()
	runtime.ReadMemStats(&after)
	if took, most := after.TotalAlloc-before.TotalAlloc, uint64(freeBytes+timesBytes*len(data)); took > most {
		t.Errorf("%d MiB allocated for %d bytes, at most %d MiB are allowed, reading %.200q", took>>20, len(data), most>>20, data)
	}
}

// Lengths makes damaged copies of a sample: sizes that cannot be, 2^60 bytes among them, in every place where a number may stand.
func Lengths(sample []byte, try func(bad []byte)) {
	for _, size := range []int{4, 8} {
		for at := 0; at+size <= len(sample); at += 4 {
			for _, v := range []uint64{1 << 60, 1<<63 - 1, 1 << 63, 1<<64 - 1, 1 << 31, 1<<31 - 1, 1 << 24, uint64(len(sample))} {
				bad := bytes.Clone(sample)
				if size == 4 {
					binary.LittleEndian.PutUint32(bad[at:], uint32(v>>32|v))
				} else {
					binary.LittleEndian.PutUint64(bad[at:], v)
				}
				try(bad)
			}
		}
	}
}
