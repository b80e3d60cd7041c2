package readtest

import (
	"bytes"
	"context"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"dynolake/pipeline/read"
	"dynolake/schema"
)

// Flip changes every bit of sample, or each so many, from one offset to another, for binary forms: where a reader says nothing of it, in an error or
// a finding, what it reads must be what it reads of the sample itself.
func Flip(t *testing.T, r schema.Reader, sample []byte, from, to, step int) {
	t.Helper()
	good, err := read.Collect(context.Background(), r, Bytes("log.csv", sample))
	if err != nil {
		t.Fatalf("the sample itself cannot be read: %v", err)
	}
	for n := from * 8; n < to*8; n += step {
		bad := bytes.Clone(sample)
		bad[n/8] ^= 1 << (n % 8)
		got, err := read.Collect(context.Background(), r, Bytes("log.csv", bad))
		if err != nil || told(got) > told(good) {
			continue
		}
		if !cmp.Equal(good, got, cmpopts.EquateNaNs()) {
			t.Errorf("bit %d at offset %d: another reading, and nothing said", n%8, n/8)
		}
	}
}

func told(logs []schema.Log) int {
	n := 0
	for _, l := range logs {
		n += len(l.Findings)
	}
	return n
}
