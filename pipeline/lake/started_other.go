//go:build !linux

package lake

func started(int) string { return "" }
