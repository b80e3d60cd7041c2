package pipeline

import (
	"runtime/debug"
	"sync"
)

const (
	paceSlack = 64 << 20 // Garbage that may lie about beside what jobs hold.
	paceBase  = 16 << 20 // What the program holds without any.
	paceLeast = 50       // Percent: large logs are held whole and get no more garbage beside them than half of that.
	paceMost  = 400
)

// pace lets garbage lie while little is held, as collecting it costs the same however little of it there is, and has it collected soon
// where a log fills the memory.
type pace struct {
	mu      sync.Mutex
	held    int64 // Bytes that the jobs under way and the runs that wait for a commit take, about.
	percent int
}

// take counts bytes that a job takes, or with a negative number lets go of.
func (p *pace) take(bytes int64) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.held += bytes
	if now := paceFor(p.held); now != p.percent {
		debug.SetGCPercent(now)
		p.percent = now
	}
}

// paceFor is the garbage, in percent of what is held, at which it is collected: in steps, each change of which stops the program for a moment.
func paceFor(held int64) int {
	percent := paceLeast
	for 2*percent <= paceMost && int64(2*percent)*(paceBase+held) <= 100*paceSlack {
		percent *= 2
	}
	return percent
}
