package pipeline

import (
	"context"

	"golang.org/x/sync/semaphore"
)

// defaultMemory bounds the bytes of memory that jobs under way may take together; one that needs more goes alone.
const defaultMemory = 2 << 30

// memory is the budget in bytes.
func (in *ingest) memory() int64 {
	if in.opts.Memory > 0 {
		return in.opts.Memory
	}
	return defaultMemory
}

// room is the memory that works under way share.
type room struct {
	budget int64
	free   *semaphore.Weighted
	pace   *pace
}

func newRoom(budget int64, p *pace) room { return room{budget, semaphore.NewWeighted(budget), p} }

// work does what needs so many bytes once they are free; what needs more than there are has all of them to itself.
func (r room) work(ctx context.Context, need int64, do func() error) error {
	share := min(r.budget, need)
	if err := r.free.Acquire(ctx, share); err != nil {
		return err
	}
	defer r.free.Release(share)
	r.pace.take(need)
	defer r.pace.take(-need)
	return do()
}
