package main

import (
	"math"
	"runtime"
	"runtime/debug"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"
)

// leastMemory is the least that a budget may be: the program and the catalogue take as much by themselves.
const leastMemory = 64 << 20

func memoryFlag() cli.Flag {
	return &cli.StringFlag{Name: "memory", Usage: "the `SIZE` of memory that runs in the making may take together, such as 512 MiB; a log that needs more by itself goes alone", DefaultText: "2 GiB"}
}

// memory is the budget in bytes that --memory states; 0 where it is not given.
func memory(c *cli.Context) (int64, error) {
	text := c.String("memory")
	if text == "" {
		return 0, nil
	}
	n, ok := bytesOf(text)
	if !ok {
		return 0, usagef("read --memory %q: want a number with a unit, such as 512 MiB or 2 GB", text)
	}
	if n < leastMemory {
		return 0, usagef("read --memory %q: want 64 MiB or more", text)
	}
	return n, nil
}

// bytesOf reads a size: a number and MiB, MB, GiB, GB or the like, in any case. M and G alone are the powers of two that they are in memory.
func bytesOf(text string) (int64, bool) {
	text = strings.TrimSpace(text)
	digits := strings.TrimRight(text, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ ")
	x, err := strconv.ParseFloat(digits, 64)
	factor, ok := map[string]float64{
		"": 1, "b": 1, "k": 1 << 10, "kib": 1 << 10, "kb": 1e3, "m": 1 << 20, "mib": 1 << 20, "mb": 1e6, "g": 1 << 30, "gib": 1 << 30, "gb": 1e9,
	}[strings.ToLower(strings.TrimSpace(text[len(digits):]))]
	if err != nil || !ok || !(x*factor > 0) || x*factor > math.MaxInt64/2 {
		return 0, false
	}
	return int64(x * factor), true
}

// unhurried lets the program collect its garbage when there are 32 MiB more of it than by itself, until the function given back is called: a short question would collect
// several times while it starts, which is a third of its time. The bytes are never touched, so that they take no memory; they only count.
func unhurried() func() {
	weight := make([]byte, 32<<20)
	return func() { runtime.KeepAlive(weight) }
}

// within lets the program collect its garbage sooner when it nears the budget; the function given back ends that.
func within(budget int64) func() {
	if budget == 0 {
		return func() {}
	}
	was := debug.SetMemoryLimit(budget)
	return func() { debug.SetMemoryLimit(was) }
}
