package fleet

import (
	"fmt"
	"unsafe"

	"golang.org/x/sys/unix"
)

// action is the kernel's struct sigaction, unread: handler, flags, restorer and mask.
type action [4]uintptr

// handlers are those of the signals that the library sets.
type handlers map[unix.Signal]action

func keepSignals() (handlers, error) {
	kept := handlers{}
	for _, s := range []unix.Signal{unix.SIGABRT, unix.SIGSEGV, unix.SIGILL, unix.SIGBUS, unix.SIGSYS, unix.SIGFPE, unix.SIGTSTP, unix.SIGTRAP, unix.SIGURG, unix.SIGINT, unix.SIGTERM, unix.SIGPIPE} {
		var a action
		if err := sigaction(s, nil, &a); err != nil {
			return nil, err
		}
		kept[s] = a
	}
	return kept, nil
}

func (h handlers) restore() error {
	for s, a := range h {
		if err := sigaction(s, &a, nil); err != nil {
			return err
		}
	}
	return nil
}

// sigaction asks the kernel itself: Go has no call that reads or sets a handler as it is.
func sigaction(s unix.Signal, set, was *action) error {
	const maskBytes = 8
	_, _, code := unix.RawSyscall6(unix.SYS_RT_SIGACTION, uintptr(s), uintptr(unsafe.Pointer(set)), uintptr(unsafe.Pointer(was)), maskBytes, 0, 0)
	if code != 0 {
		return fmt.Errorf("keep the handler of signal %d: %w", s, code)
	}
	return nil
}
