//go:build !linux

package inbox

import "io/fs"

func stampOf(info fs.FileInfo) stamp {
	return stamp{mode: info.Mode(), size: info.Size(), at: info.ModTime()}
}
