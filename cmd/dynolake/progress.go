package main

import (
	"os"
	"sync"
	"time"

	"github.com/urfave/cli/v2"
	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
)

// progress is a bar with rate and time left, only where stderr is a terminal.
type progress struct {
	mu   sync.Mutex
	pool *mpb.Progress
	bar  *mpb.Bar
	at   time.Time
}

func newProgress(c *cli.Context) *progress {
	p := &progress{at: time.Now()}
	if f, ok := c.App.ErrWriter.(*os.File); ok && onTerminal(f) && !quiet(c) {
		p.pool = mpb.New(mpb.WithOutput(f), mpb.WithWidth(40))
	}
	return p
}

func (p *progress) step(done, total int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.pool == nil {
		return
	}
	if p.bar == nil {
		p.bar = p.pool.AddBar(int64(total), mpb.AppendDecorators(
			decor.CountersNoUnit("%d of %d jobs "), decor.EwmaSpeed(nil, "%.1f/s ", 30), decor.EwmaETA(decor.ET_STYLE_GO, 30)))
	}
	now := time.Now()
	p.bar.EwmaSetCurrent(int64(done), now.Sub(p.at))
	p.at = now
}

// close takes the bar away.
func (p *progress) close() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.pool == nil {
		return
	}
	if p.bar != nil {
		p.bar.Abort(true)
	}
	p.pool.Wait()
}
