// Package isotp puts messages together that were carried in several CAN frames, as ISO 15765-2 has it with normal addressing.
//
// The form. The high half of the first byte says what a frame is: 0 a single frame with its length, 1 a first frame with a
// length of 12 bits, 2 a consecutive frame with a counter, 3 flow control. A CAN FD single frame with length 0 has it in the
// second byte.
//
// Terms. A sender is one bus and id; each has an Assembler of its own, so that control units may answer at the same time.
//
// Invariants. A message is given out whole or not at all: a lost or doubled frame, another first frame in between, or a pause
// longer than the standard's second ends it, and Fault says which. Memory is one message a sender, 4095 bytes at the most.
// Source: ISO 15765-2 as the Linux kernel's networking documentation (iso15765-2) describes it.
//
//	var a isotp.Assembler
//	message, kind := a.Add(t, []byte{0x04, 0x41, 0x0C, 0x1A, 0xF8})
package isotp

// Kind tells what became of a frame.
type Kind int

// What a frame was.
const (
	Pending   Kind = iota // A part of a message that is not whole yet.
	Whole                 // It completed the message that Add returns.
	Flow                  // Flow control.
	Malformed             // A length or kind that the standard does not have.
	Lost                  // A consecutive frame out of order, or without a first frame.
)

// longest is the pause in seconds after which a message is given up: the standard's N_Cr.
const longest = 1.0

// Message is one whole message. Data is overwritten by the next Add.
type Message struct {
	T    float64 // Of its first frame.
	Data []byte
}

// Assembler puts one sender's frames together. Its zero value is ready.
type Assembler struct {
	data  []byte
	want  int
	next  byte
	start float64
	last  float64

	Broken int // Messages that were begun and never completed.
}

// Pending reports whether a message is begun.
func (a *Assembler) Pending() bool { return a.want > 0 }

// drop gives up a message that is under way.
func (a *Assembler) drop() {
	if a.want > 0 {
		a.Broken++
		a.want = 0
	}
}

// Reset gives up a message that is under way.
func (a *Assembler) Reset() { a.drop() }

// Add takes one frame's data at time t, seconds.
func (a *Assembler) Add(t float64, data []byte) (Message, Kind) {
	if len(data) == 0 {
		return Message{}, Malformed
	}
	if a.want > 0 && (t-a.last > longest || t < a.last-longest) {
		a.drop()
	}
	switch data[0] >> 4 {
	case 0:
		return a.single(t, data)
	case 1:
		return a.first(t, data)
	case 2:
		return a.consecutive(t, data)
	case 3:
		return Message{}, Flow
	}
	return Message{}, Malformed
}

func (a *Assembler) single(t float64, data []byte) (Message, Kind) {
	n, body := int(data[0]&0x0F), data[1:]
	if n == 0 && len(data) > 8 { // CAN FD.
		n, body = int(data[1]), data[2:]
	}
	if n == 0 || n > len(body) {
		return Message{}, Malformed
	}
	a.drop() // The standard ends a message under way when another one begins.
	return Message{T: t, Data: body[:n]}, Whole
}

func (a *Assembler) first(t float64, data []byte) (Message, Kind) {
	if len(data) < 8 {
		return Message{}, Malformed
	}
	n := int(data[0]&0x0F)<<8 | int(data[1])
	if n < 8 || n <= len(data)-2 { // 0 announces 32 bits of length, which no diagnostic answer needs.
		return Message{}, Malformed
	}
	a.drop()
	a.data = append(a.data[:0], data[2:]...)
	a.want, a.next, a.start, a.last = n, 1, t, t
	return Message{}, Pending
}

func (a *Assembler) consecutive(t float64, data []byte) (Message, Kind) {
	if a.want == 0 {
		return Message{}, Lost
	}
	if data[0]&0x0F != a.next {
		a.drop()
		return Message{}, Lost
	}
	if len(data) < 8 && len(a.data)+len(data)-1 < a.want { // Only the last frame may be short.
		a.drop()
		return Message{}, Malformed
	}
	a.data = append(a.data, data[1:]...)
	a.next, a.last = (a.next+1)&0x0F, t
	if len(a.data) < a.want {
		return Message{}, Pending
	}
	n := a.want
	a.want = 0
	return Message{T: a.start, Data: a.data[:n]}, Whole
}
