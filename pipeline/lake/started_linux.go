package lake

import (
	"bytes"
	"os"
	"strconv"
)

// started tells when a process of this host began: the boot and the clock ticks since. It is empty when there is none.
func started(pid int) string {
	boot, err := os.ReadFile("/proc/sys/kernel/random/boot_id")
	if err != nil {
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
	return string(bytes.TrimSpace(boot)) + "/" + string(fields[19])
}
