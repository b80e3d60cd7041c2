// Package disktest holds disks that go wrong, for tests of what a failure leaves behind.
//
// Faulty fails operations by number or by choice, and records all of them. Crash keeps account of what was made durable, and makes a copy of a
// folder as a loss of power at that moment would leave it.
package disktest
