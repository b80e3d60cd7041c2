// Package obd reads the answers of on-board diagnostics, SAE J1979 modes 01 (current data) and 02 (freeze frame).
//
// Terms. A PID names a parameter. Its support byte, where it has one, says which of its values a vehicle has. A tester sends
// requests to all control units (7DF, 18DB33F1) or to one (7E0-7E7, 18DAxxF1); control unit xx answers from 7E8-7EF or 18DAF1xx.
//
// pids.yaml is the one place of a parameter: its lengths, values, scales, units, and the choice made where the published tables
// disagree.
//
// Invariants. Values that the support byte denies are missing. An answer to several PIDs is taken apart only as far as every
// PID's length is known; what is left over is reported, never guessed at.
//
//	answer := obd.Parse([]byte{0x41, 0x0C, 0x1A, 0xF8})
//	v := answer.Items[0].PID.Values[0].Of(answer.Items[0].Data) // 1726 rpm.
package obd
