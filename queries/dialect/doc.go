// Package dialect turns a SELECT as DuckDB reads it into a script for ClickHouse that gives the same rows.
//
// Terms. A statement is one SELECT, of a pack or of a user. A script is a list of steps and the SELECT that gives the answer. A step makes a temporary table of a
// WITH part that is read more than once, which ClickHouse would otherwise reckon anew wherever it is read; a part that is read once stands there. A spelling is a macro that
// ClickHouse needs in its own words; those are in clickhouse.sql. Every other macro is made from its definition for DuckDB.
//
// How it is done. The statement is read into a tree, every name is resolved to its column and every expression gets the type that DuckDB gives it, and
// the tree is written again so that ClickHouse counts in those types: single precision stays single, whole numbers are divided to
// fractions, nothing divided by 0 is NULL, halves are rounded away from zero, concat passes over NULL, texts are joined in order, and an aggregate of no rows is NULL.
//
// Invariants. What is not known to mean the same on both engines is refused by an error of type *Refused that names it and its place: no answer differs
// in silence. Functions are translated by name from lists; types are those that the views have, and what is made of them. A script
// leaves nothing behind once its Drop has run, whatever became of its steps. It is made for the settings that Settings lists, and runs in one session
// that nobody else uses meanwhile. Sums of floating-point numbers may differ in their last digits, as they do between two runs of either engine; answers
// of the packs are rounded to less. Where DuckDB stops with an error, as at the root of a negative number, ClickHouse may give NaN, which counts as missing.
//
// The package holds no connection and touches no file.
//
//	t, err := dialect.New(engine.MacrosSQL(), views)
//	script, err := t.Translate("SELECT vehicle, round(avg(duration_s), 1) AS s FROM runs GROUP BY vehicle", nil)
//	// run dialect.Settings(), script.Steps, then script.Answer, then script.Drop
package dialect
