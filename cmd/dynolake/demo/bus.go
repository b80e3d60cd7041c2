package demo

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"
)

// sending is one frame on the bus, or several that belong together.
type sending struct {
	at   float64 // Of the run, s.
	text []string
}

// candump writes sendings in the order of their times, each frame a quarter of a millisecond after the one before.
func (r recorder) candump(list []sending, start time.Time) []byte {
	slices.SortStableFunc(list, func(a, b sending) int { return cmp.Compare(a.at, b.at) })
	var b strings.Builder
	last := time.Time{}
	for _, s := range list {
		for i, frame := range s.text {
			at := instant(start, r.base+s.at-r.begin+0.00025*float64(i))
			if !at.After(last) {
				at = last.Add(100 * time.Microsecond) // The bus carries one frame at a time.
			}
			last = at
			fmt.Fprintf(&b, "(%d.%06d) can0 %s\n", at.Unix(), at.Nanosecond()/1000, frame)
		}
	}
	return []byte(b.String())
}

// truckBus logs the messages whose signals the recorder keeps, each at the rate of its fastest channel.
func (r recorder) truckBus(sensors []*sensor, t *trace, start time.Time) []byte {
	byColumn := map[string]*sensor{}
	for _, s := range sensors {
		byColumn[s.column] = s
	}
	var list []sending
	for i := range truckMessages {
		m := &truckMessages[i]
		rate := 0.0
		for _, p := range m.places {
			if s := byColumn[p.column]; s != nil {
				rate = max(rate, cmp.Or(s.rate, r.rate))
			}
		}
		if rate == 0 {
			continue
		}
		for at := r.begin + float64(i)*0.0013; at < t.duration(); at += 1 / rate {
			data := [8]byte{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}
			for _, p := range m.places {
				if s := byColumn[p.column]; s != nil {
					m.put(&data, p, s.read(t, at))
				}
			}
			list = append(list, sending{at, []string{fmt.Sprintf("%08X#%X", m.id, data)}})
		}
	}
	return r.candump(list, start)
}

// pid is a parameter of on-board diagnostics, mode 01 (SAE J1979 / ISO 15031-5).
type pid struct {
	number byte
	place  place
	pair   bool // Of two sensors: a byte says that the first is there, and room for the second follows.
}

// What the scan tool asks for in one request: the fast ones ten times a second, the slow ones every other second.
var (
	fastPIDs = [...]pid{
		{0x0C, place{"engine_speed_rpm", 1, 16, 0.25, 0, 0}, false}, {0x87, place{"map_kpa", 1, 16, 1.0 / 32, 0, 0}, true}, {0x49, place{"pedal_pct", 1, 8, 100.0 / 255, 0, 0}, false},
		{0x0D, place{"vehicle_speed_kmh", 1, 8, 1, 0, 0}, false}, {0x10, place{"maf_g_s", 1, 16, 0.01, 0, 0}, false}, {0x5E, place{"fuel_kg_h", 1, 16, 0.05, 0, 0}, false},
	}
	slowPIDs = [...]pid{
		{0x05, place{"coolant_c", 1, 8, 1, -40, 0}, false}, {0x0F, place{"inlet_c", 1, 8, 1, -40, 0}, false},
		{0x33, place{"baro_kpa", 1, 8, 1, 0, 0}, false}, {0x23, place{"rail_kpa", 1, 16, 10, 0, 0}, false},
	}
)

// carBus logs a scan tool's requests (11-bit ids) and the engine's answers, which take several frames (ISO 15765-2).
func (r recorder) carBus(sensors []*sensor, t *trace, start time.Time) []byte {
	var list []sending
	for at := r.begin; at < t.duration(); at += 0.1 {
		list = append(list, sending{at, ask(fastPIDs[:], sensors, t, at)})
	}
	for at := r.begin + 0.05; at < t.duration(); at += 2 {
		list = append(list, sending{at, ask(slowPIDs[:], sensors, t, at)})
	}
	return r.candump(list, start)
}

// ask gives the frames of one request and its answer.
func ask(pids []pid, sensors []*sensor, t *trace, at float64) []string {
	request, answer := []byte{byte(len(pids) + 1), 0x01}, []byte{0x41}
	for _, p := range pids {
		s := sensors[slices.IndexFunc(sensors, func(s *sensor) bool { return s.column == p.place.column })]
		request, answer = append(request, p.number), append(answer, p.number)
		m := message{big: p.place.bits == 16}
		var data [8]byte
		m.put(&data, p.place, s.read(t, at))
		value := data[:p.place.bits/8]
		if p.pair {
			value = []byte{1, data[0], data[1], 0, 0}
		}
		answer = append(answer, value...)
	}
	return append([]string{fmt.Sprintf("7DF#%X", filled(request))}, multiFrame(answer)...)
}

// multiFrame parts an answer into a first frame, the tool's consent and the frames that follow.
func multiFrame(answer []byte) []string {
	first := append([]byte{0x10 | byte(len(answer)>>8), byte(len(answer))}, answer[:6]...)
	out := []string{fmt.Sprintf("7E8#%X", first), fmt.Sprintf("7E0#%X", filled([]byte{0x30, 0, 0}))}
	number := byte(1)
	for rest := range slices.Chunk(answer[6:], 7) {
		out = append(out, fmt.Sprintf("7E8#%X", filled(append([]byte{0x20 | number&15}, rest...))))
		number++
	}
	return out
}

// filled pads a frame to eight bytes as ISO 15765-2 does.
func filled(data []byte) []byte {
	for len(data) < 8 {
		data = append(data, 0x55)
	}
	return data
}
