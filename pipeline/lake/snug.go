package lake

import "github.com/apache/arrow-go/v18/arrow/memory"

// snug gives back what a buffer no longer needs: the reader reserves for the next power of two of rows, and a buffer cut to what came keeps all of it, up to
// twice as much, for as long as it lives.
type snug struct{ memory.Allocator }

// Reallocate moves a buffer that has a quarter too much.
func (s snug) Reallocate(size int, b []byte) []byte {
	if size == 0 || 4*size > 3*cap(b) {
		return s.Allocator.Reallocate(size, b)
	}
	fit := s.Allocate(size)
	copy(fit, b)
	s.Free(b)
	return fit
}
