//go:build unix

package readtest

import (
	"syscall"
	"time"
)

// processor is the time that the process has had of its cores, s.
func processor() float64 {
	var u syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &u) // It fails for a wrong argument alone.
	return time.Duration(u.Utime.Nano() + u.Stime.Nano()).Seconds()
}
