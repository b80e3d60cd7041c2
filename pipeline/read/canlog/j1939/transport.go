package j1939

import "slices"

// PGNs of the transport protocol, SAE J1939-21.
const (
	PGNControl  = 0xEC00 // TP.CM
	PGNData     = 0xEB00 // TP.DT
	PGNRequest  = 0xEA00
	PGNExtended = 0xC800 // ETP.CM, for messages of more than 1785 bytes.
	PGNExtData  = 0xC700 // ETP.DT
)

const (
	controlRTS   = 16
	controlCTS   = 17
	controlEnd   = 19
	controlBAM   = 32
	controlAbort = 255

	mostBytes    = 1785
	mostSessions = 128
	silence      = 2.0 // Seconds after which a message is given up; the standard has 0.75 to 1.25.
)

// Packets is one message that was carried in several packets. Data is overwritten by later packets.
type Packets struct {
	T      float64 // Of its announcement.
	PGN    uint32
	Source byte
	Data   []byte
}

// Transport puts multi-packet messages of one bus together: announced to all (BAM) or by request to send. Sessions of different
// senders and receivers may be interleaved. Its zero value is ready; memory is bounded by 128 sessions of 1785 bytes.
type Transport struct {
	sessions map[[2]byte]*session

	Whole     int // Completed.
	Broken    int // Begun and never completed.
	Malformed int // Announcements whose numbers do not fit, packets that no announcement fits.
}

type session struct {
	pgn   uint32
	size  int
	start float64
	last  float64
	data  []byte
	had   []bool
	left  int
	done  bool // Whole: packets sent once more are passed over.
}

// Add takes one frame of PGNControl or PGNData. It is true with a message that the frame completes.
func (t *Transport) Add(at float64, id ID, data []byte) (Packets, bool) {
	if len(data) < 2 {
		t.Malformed++
		return Packets{}, false
	}
	if id.PGN == PGNControl {
		t.control(at, id, data)
		return Packets{}, false
	}
	key := [2]byte{id.Source, id.Destination}
	s := t.sessions[key]
	if s != nil && !s.done && (at-s.last > silence || at < s.last-silence) {
		t.drop(key)
		s = nil
	}
	n := int(data[0]) - 1
	if s == nil || n < 0 || n >= len(s.had) {
		t.Malformed++
		return Packets{}, false
	}
	s.last = at
	part := s.data[n*7 : min(n*7+7, s.size)]
	if len(data)-1 < len(part) {
		t.Malformed++
		return Packets{}, false
	}
	copy(part, data[1:])
	if s.done || s.had[n] { // Sent once more, on request.
		return Packets{}, false
	}
	s.had[n] = true
	if s.left--; s.left > 0 {
		return Packets{}, false
	}
	s.done = true
	t.Whole++
	return Packets{T: s.start, PGN: s.pgn, Source: id.Source, Data: s.data}, true
}

func (t *Transport) control(at float64, id ID, data []byte) {
	if len(data) < 8 {
		t.Malformed++
		return
	}
	key := [2]byte{id.Source, id.Destination}
	switch data[0] {
	case controlRTS, controlBAM:
		size, packets := int(data[1])|int(data[2])<<8, int(data[3])
		t.drop(key)
		if size < 9 || size > mostBytes || packets != (size+6)/7 || (data[0] == controlBAM) != (id.Destination == 0xFF) || (len(t.sessions) >= mostSessions && t.sessions[key] == nil) {
			t.Malformed++
			return
		}
		if t.sessions == nil {
			t.sessions = map[[2]byte]*session{}
		}
		t.sessions[key] = &session{pgn: uint32(data[5]) | uint32(data[6])<<8 | uint32(data[7]&3)<<16, size: size, start: at, last: at,
			data: slices.Repeat([]byte{0xFF}, size), had: make([]bool, packets), left: packets}
	case controlCTS: // From the receiver: the sender's session goes on.
		if s := t.sessions[[2]byte{id.Destination, id.Source}]; s != nil {
			s.last = at
		}
	case controlEnd:
	case controlAbort: // Either side may give up.
		t.drop(key)
		t.drop([2]byte{id.Destination, id.Source})
	default:
		t.Malformed++
	}
}

func (t *Transport) drop(key [2]byte) {
	if s := t.sessions[key]; s != nil {
		if !s.done {
			t.Broken++
		}
		delete(t.sessions, key)
	}
}

// Close counts what was begun and is not whole.
func (t *Transport) Close() {
	for key := range t.sessions {
		t.drop(key)
	}
}
