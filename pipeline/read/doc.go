// Package read finds the reader that fits a log and holds what it reads. Each form of log is a package below this one; it is
// registered in forms, one line a form.
//
// Terms. A form is a way of writing logs, such as delimited text. A fit is how well a form's reader recognises the first
// 64 KiB of a file. A part is what a recorder logged between two restarts.
//
// Invariants. The content decides, never a file's ending. Binary magics come before texts, for they score higher. Where
// nothing fits, the error names what the bytes look like and gives each form's own reason. Nothing is written anywhere: a
// failure leaves nothing behind.
//
//	reader, err := read.Detect(ctx, src)
//	if err != nil {
//		return err // A *read.NoFormError when no form fits.
//	}
//	logs, err := read.Collect(ctx, reader, src) // One log a part.
package read
