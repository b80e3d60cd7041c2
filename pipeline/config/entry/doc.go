// Package entry reads the small files that people write by hand, keeping where each word stood, so that an error can say
// file:line:column, quote what was found and name what was expected.
//
// Terms. A Value is a text, a list or a map of a YAML file with its Position. A Form reads one map by field name and gathers
// every error in it, so that a file is mended in one go. A Quantity is a number that may carry its unit; a bare one is in the
// unit that is stored. Field names are compared without case, and blanks and dashes count as underscores.
//
// Nothing is kept and nothing is changed on disk; after an error what was read is not to be used.
//
//	v, err := entry.Parse("vehicles.yaml", data)
//	f := entry.NewForm(v)
//	mass := f.Number("mass", entry.Want{Unit: "kg", Low: 50, High: 1e5, Example: "1650 kg"})
//	f.Close("mass")
//	err = f.Err()
package entry
