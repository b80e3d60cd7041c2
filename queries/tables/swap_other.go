//go:build !linux

package tables

import "errors"

func exchange(_, _ string) error { return errors.ErrUnsupported }
