//go:build !linux

package lake

import "time"

func started(int) string { return "" }

func running() (boot string, up time.Duration) { return "", 0 }
