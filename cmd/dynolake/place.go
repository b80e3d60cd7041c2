package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"

	"dynolake/pipeline/disk"

	"github.com/urfave/cli/v2"
)

// diskName is what the application's disk is called among the things that commands are given.
const diskName = "disk"

// diskOf is the disk that a command writes to.
func diskOf(c *cli.Context) disk.Disk { return c.App.Metadata[diskName].(disk.Disk) }

// place writes a file that the user named; its folder must be there.
func place(c *cli.Context) func(path string, write func(io.Writer) error) error {
	return func(path string, write func(io.Writer) error) error {
		if info, err := os.Stat(filepath.Dir(path)); err != nil || !info.IsDir() {
			return fmt.Errorf("write %s: there is no folder %s", path, filepath.Dir(path))
		}
		return diskOf(c).Save(path, 0o666, write)
	}
}
