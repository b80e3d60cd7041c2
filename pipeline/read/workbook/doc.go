// Package workbook reads spreadsheets of the .xlsx kind (ECMA-376, SpreadsheetML): each sheet that holds something becomes a
// source of delimited text, so that headers, units and clocks are found there as in any other table.
//
// The text. A row is a line, so that line numbers are the sheet's row numbers; cells are parted by tabs, and a line break within a
// cell becomes a blank. Numbers are the digits of the file, whatever the cell shows. A formula gives the value that was stored
// with it; one that was never calculated gives its own text, such as =B2*2, and so is seen. A cell with a date format gives date
// and time as 2006-01-02T15:04:05.000000, to 0.1 ms, one with a time format h:mm:ss.000000, with hours beyond 24 where they are. A cell that is
// shown in percent gives what is shown: 55 for a stored 0.55. Truth values are 1 and 0. A merged cell's text stands in its first cell.
// Rows that are empty at the end, styled or not, are left out.
//
// Sheets. Charts are no sheets. A hidden sheet is left out, with a finding, unless Reader.Hidden asks for it; an empty one is passed over.
//
// Bounds. A workbook may unpack to 64 MiB, or to 100 times its own size where that is more, and its shared texts to 256 MiB; beyond that
// it is refused. Sheets are streamed; shared texts and formats are held. A failure leaves nothing behind.
//
//	sheets, findings, err := workbook.Reader{}.Members(ctx, src)
package workbook
