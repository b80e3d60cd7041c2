// Package tokens cuts SQL into code, parameters, and what is quoted or a comment, for those who read it before a database does.
//
// Invariants. The texts of all tokens joined are the SQL again, whatever the bytes. A quote or a comment that is not closed
// runs to the end.
//
//	for _, t := range tokens.Cut("SELECT '$a', $b") { … } // A Variable: $b.
package tokens
