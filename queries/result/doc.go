// Package result holds the rows of an answer and prints them: as a table or Markdown for people, as CSV, JSON or Parquet for
// programs.
//
// Terms. A column has a name and a kind; every value of it is nil (NULL) or of the Go type that the kind names. Stored units
// are those that the columns' suffixes say.
//
// Invariants. CSV, JSON and Parquet carry the stored units, every digit, and no NaN: what is no number is NULL. Table and
// Markdown round to the catalogue's decimals and convert when US units are asked for, and then the header says the new unit.
// Rows are pulled and written one after the other; a table alone holds back its first rows, to size its columns.
//
// When writing fails what was written so far stays written: a caller who needs all or nothing writes to a temporary file.
//
//	rows := result.Of([]result.Column{{Name: "boost_kpa", Kind: result.Float64}}, [][]any{{151.6}, {nil}})
//	err := result.Write(ctx, os.Stdout, rows, result.JSON, result.Options{})
//	// [
//	// {"boost_kpa":151.6},
//	// {"boost_kpa":null}
//	// ]
package result
