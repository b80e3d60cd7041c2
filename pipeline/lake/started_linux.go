package lake

import (
	"bytes"
	"os"
	"strconv"
	"time"

	"golang.org/x/sys/unix"
)

// running names the start of this system, and tells how long ago it was, sleep included. The name is empty where it does not tell.
func running() (boot string, up time.Duration) {
	name, err := os.ReadFile("/proc/sys/kernel/random/boot_id")
	var t unix.Timespec
	if err != nil || unix.ClockGettime(unix.CLOCK_BOOTTIME, &t) != nil {
		return "", 0
	}
	return string(bytes.TrimSpace(name)), time.Duration(t.Nano())
}

// started tells when a process of this host began: the boot and the clock ticks since. It is empty when there is none.
func started(pid int) string {
	boot, _ := running()
	if boot == "" {
		return ""
	}
	text, err := os.ReadFile("/proc/" + strconv.Itoa(pid) + "/stat")
	if err != nil {
		return ""
	}
	fields := bytes.Fields(text[bytes.LastIndexByte(text, ')')+1:]) // The name before it may hold anything. Field 22 of all is the 20th here (proc_pid_stat(5)).
	if len(fields) < 20 || string(fields[0]) == "Z" {
		return "" // One that is dead and not yet waited for.
	}
	return boot + "/" + string(fields[19])
}
