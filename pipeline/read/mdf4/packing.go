package mdf4

// settlePacking holds the ways in which a stream's blocks are packed against each other and against what the list's head says: a
// flipped bit there would unpack, checksum and all, to bytes in another order. A block that is packed unlike the others is
// damaged; where all are packed in an unusual way alike, it is a doubt. width is the bytes of a row, 0 where rows have none.
func (s *stream) settlePacking(width int) {
	first := -1
	usual, unusual, alike := 0, 0, true
	for i, p := range s.parts {
		if !p.packed || p.bad != nil {
			continue
		}
		if first < 0 {
			first = i
		}
		alike = alike && p.zip == s.parts[first].zip && p.param == s.parts[first].param
		if s.asUsual(p, width) {
			usual++
		} else {
			unusual++
		}
	}
	switch {
	case unusual == 0 && alike:
	case alike:
		p := s.parts[first]
		s.doubt("packing_unusual", "", "%v", harm("DZ", p.at, "packed in way %d by %d columns, which its group of %d bytes a row does not suggest; its rows may be in a wrong order", p.zip, p.param, width))
	default:
		for i := range s.parts {
			if p := &s.parts[i]; p.packed && p.bad == nil && (usual == 0 || !s.asUsual(*p, width)) {
				p.bad = harm("DZ", p.at, "packed in way %d by %d columns, unlike the other blocks of its list", p.zip, p.param)
			}
		}
	}
}

// asUsual reports whether a part is packed as its list says, and by rows when it is transposed.
func (s *stream) asUsual(p part, width int) bool {
	if s.zip >= 0 && int(p.zip) != s.zip {
		return false
	}
	if p.zip == 0 {
		return p.param == 0
	}
	return width == 0 || int(p.param) == width
}
