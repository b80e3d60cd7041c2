package mdf4

// claim is what a list says of one of its blocks: that all have one length, or where this one begins. Bytes in a DL block,
// samples in an LD block.
type claim struct {
	equal bool
	value uint64
	known bool
}

// saying reads a list's claim on its block i.
func saying(equal bool, data []byte, i int) claim {
	if equal {
		i = 0
	}
	if len(data) < 8*i+8 {
		return claim{}
	}
	return claim{equal, le.Uint64(data[8*i:]), true}
}

// contradiction is the first part whose length and what the lists say do not agree, -1 when they all do. unit is bytes a
// sample, where the lists count samples. Lists that give no offsets at all, only zeros, say nothing.
func (s *stream) contradiction(unit int64) int {
	start, zeros := int64(0), true
	for _, c := range s.said {
		zeros = zeros && !c.equal && c.value == 0
	}
	if zeros {
		return -1
	}
	for i, p := range s.parts {
		if i >= len(s.said) {
			break
		}
		size, c := p.size/unit, s.said[i]
		switch {
		case !c.known:
		case c.equal && (uint64(size) > c.value || uint64(size) < c.value && i+1 < len(s.parts)):
			return i
		case !c.equal && c.value != uint64(start):
			return max(0, i-1)
		}
		start += size
	}
	return -1
}

// settleClaims checks a stream against what its lists say. total is the size that the group's own counts give, -1 when they give
// none: where the parts' lengths agree with it the lists are wrong, else the stream ends before the contradiction.
func (s *stream) settleClaims(unit, total int64) {
	if s.unfinished != 0 {
		return
	}
	i := s.contradiction(unit)
	if i < 0 {
		return
	}
	p := s.parts[i]
	if s.cut == nil && s.size == total {
		s.say("offsets_disagree", "", "%s block at offset %d: its length and its list's offsets contradict each other; the number of records agrees with the length", p.id, p.at)
		return
	}
	s.cut = harm(p.id, p.at, "its length and its list's offsets contradict each other, and the number of records agrees with neither")
	s.parts, s.size = s.parts[:i], p.start
}

// align gives the validity bytes that are not stored their lengths, and holds the others against the samples beside them.
func (s *stream) align(data *stream, dataBytes, validBytes int64) {
	at := int64(0)
	for i := range s.parts {
		p := &s.parts[i]
		want := int64(0)
		if i < len(data.parts) {
			want = data.parts[i].size / dataBytes * validBytes
		}
		if p.zeros {
			p.size = want
		} else if p.size != want && p.bad == nil {
			p.bad = harm(p.id, p.at, "%d validity bytes stand beside samples that need %d", p.size, want)
			p.size = want
		}
		p.start = at
		at += p.size
	}
	s.size = at
}
