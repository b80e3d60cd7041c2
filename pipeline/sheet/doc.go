// Package sheet finds which log files form one run and what a person wrote about it: NAME.run.yaml beside one log, or a
// runs.csv in a folder with a row per log.
//
// Terms. A sheet is one such file, an entry one run that it names: the whole of a NAME.run.yaml or a row of a runs.csv. A Spec is one run to be
// ingested: its files and the entry that applies. A named file or folder is one that the user gave. The rank of an entry says how
// near it is to its log: 0 a NAME.run.yaml, 1 a runs.csv in the log's folder, 2 and up one in a folder above.
//
// Rules. A sheet applies as soon as one of the files of an entry is named; then all files of the entry belong to the run. Where two entries name
// one file the nearest wins, and the other fills in what it left open; both facts are findings. A file is in one run only. An
// entry with a fault, or that names a file which is missing, is set aside with its files, and the others go on. A column that is no field is kept
// in the note as name: value. Files that are plainly no logs, hidden files and the sheets themselves are left out of folders.
//
// The air's moisture is one of humidity (relative), dew_point and wet_bulb. zero asks for pressures' zeros to be taken off: key-on for all, or columns, each
// with what it reads at its zero.
//
// Nothing is changed on disk.
//
//	found, err := sheet.Find(ctx, []string{"logs"}, sheet.Options{})
//	for _, spec := range found.Runs {
//		started, err := sheet.Time(spec.Sheet.StartedAt, time.UTC)
//	}
package sheet
