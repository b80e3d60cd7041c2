package sheet

import "testing"

// No name of a field has more letters than are looked at.
func TestFieldNamesAreShort(t *testing.T) {
	for _, f := range fields {
		if got, ok := field1(f); !ok || got != f {
			t.Errorf("field %q reads as %q, %t", f, got, ok)
		}
	}
	for word, f := range words {
		if got, ok := field1(word); !ok || got != f {
			t.Errorf("word %q reads as %q, %t: want %q", word, got, ok, f)
		}
	}
}
