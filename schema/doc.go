// Package schema says what the lake stores and what passes between the stages of the pipeline: the channel catalogue
// (channels.yaml), units, logs as read, frames as mapped, runs, segments, curves, findings, vehicles, dynos and limits.
//
// Terms. A source is one log file (or a member or sheet of one). A channel is what a recorder logged under one name. A
// column is a place in the catalogue. A group is the channels that share one clock. A run is one recording of one vehicle,
// from one or several sources. In memory a missing value is NaN; in files it is NULL, never NaN.
//
// The package touches no file, clock or database.
package schema
