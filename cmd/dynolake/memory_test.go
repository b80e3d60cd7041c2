package main

import "testing"

func TestBytesOf(t *testing.T) {
	for text, want := range map[string]int64{
		"512 MiB": 512 << 20, "512mib": 512 << 20, "2G": 2 << 30, "2 GB": 2e9, "1.5 GiB": 3 << 29, "100000000": 1e8, "64M": 64 << 20, "70 kB": 70e3,
		"": 0, "much": 0, "-1 GiB": 0, "0": 0, "1 TiBs": 0, "NaN": 0, "1e400": 0, "Inf": 0, "9999999999 GiB": 0, "1 2": 0,
	} {
		if got, ok := bytesOf(text); got != want || ok != (want > 0) {
			t.Errorf("%q is %d, %v, want %d", text, got, ok, want)
		}
	}
}
