package edition

// lined lays compact JSON out with a line for each value of the whole and each of
// theirs, and none within those: a figure is a line, which programs that compare
// texts like, and half of a large edition would be indentation otherwise.
func lined(text []byte) []byte {
	out := make([]byte, 0, len(text)+len(text)/16)
	depth, from := 0, 0
	const lines = 2
	newLine := func(upto int) {
		out = append(append(out, text[from:upto]...), "\n    "[:1+2*depth]...)
		from = upto
	}
	for i := 0; i < len(text); i++ {
		switch c := text[i]; c {
		case '"':
			for i++; text[i] != '"'; i++ {
				if text[i] == '\\' {
					i++
				}
			}
		case '{', '[':
			if depth++; depth <= lines && text[i+1] != c+2 { // its end is two after it in ASCII
				newLine(i + 1)
			}
		case '}', ']':
			if depth--; depth < lines && text[i-1] != c-2 {
				newLine(i)
			}
		case ',':
			if depth <= lines {
				newLine(i + 1)
			}
		case ':':
			if depth <= lines {
				out, from = append(append(out, text[from:i+1]...), ' '), i+1
			}
		}
	}
	return append(out, text[from:]...)
}
