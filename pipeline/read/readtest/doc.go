// Package readtest holds the tests that every reader must pass, so that a new form is held to the same rules as the first.
//
// Suite tries a reader on damaged and re-encoded forms of one good file. Golden walks a folder of cases, each an input and
// what must be read from it, so that a new case needs no Go. Check is for fuzz targets: whatever the bytes, a reader never
// panics and never breaks its promises to the sink.
//
//	func TestSuite(t *testing.T)  { readtest.Suite(t, delimited.Reader{}, sample) }
//	func TestGolden(t *testing.T) { readtest.Golden(t, delimited.Reader{}, "testdata") }
package readtest
