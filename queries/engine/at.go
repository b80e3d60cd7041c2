package engine

import "strings"

// quotedAt puts each bare word at of a statement in quotes, save where it stands before TIME ZONE: findings has a column of that name, which SQL keeps for itself.
// Texts, names in quotes and comments stay as they are.
func quotedAt(s string) string {
	var out strings.Builder
	for i := 0; i < len(s); {
		end := i + apart(s[i:])
		if end == i {
			for end = i + 1; (isNamed(s[i]) || s[i] == '$') && end < len(s) && isNamed(s[end]); {
				end++
			}
		}
		next, _ := word(s, end)
		if token := s[i:end]; strings.EqualFold(token, "at") && !strings.EqualFold(next, "time") {
			out.WriteString(`"` + token + `"`)
		} else {
			out.WriteString(token)
		}
		i = end
	}
	return out.String()
}

// apart is the length of a text, a name in quotes or a comment at the beginning of s; 0 where there is none.
func apart(s string) int {
	switch {
	case s[0] == '\'' || s[0] == '"':
		return through(s, 1, s[:1])
	case strings.HasPrefix(s, "--"):
		return through(s, 2, "\n")
	case strings.HasPrefix(s, "/*"):
		return through(s, 2, "*/")
	case s[0] == '$':
		if tag, _, ok := strings.Cut(s[1:], "$"); ok && strings.TrimLeftFunc(tag, func(r rune) bool { return r < 128 && isNamed(byte(r)) }) == "" {
			return through(s, len(tag)+2, "$"+tag+"$")
		}
	}
	return 0
}

// through is where the first closing after from ends, or the end of s.
func through(s string, from int, closing string) int {
	if at := strings.Index(s[from:], closing); at >= 0 {
		return from + at + len(closing)
	}
	return len(s)
}

// isNamed reports whether a byte can be of a name without quotes.
func isNamed(c byte) bool {
	return c == '_' || c >= 0x80 || c >= '0' && c <= '9' || c|0x20 >= 'a' && c|0x20 <= 'z'
}
