package inbox

import (
	"io/fs"
	"syscall"
)

func stampOf(info fs.FileInfo) stamp {
	s := stamp{mode: info.Mode(), size: info.Size(), at: info.ModTime()}
	if sys, ok := info.Sys().(*syscall.Stat_t); ok {
		s.identity, s.changed = sys.Ino, sys.Ctim
	}
	return s
}
