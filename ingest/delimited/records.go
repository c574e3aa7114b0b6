package delimited

import "bytes"

// Records calls visit for every record of a text that is not blank, cut by the
// reader's rules: with the physical line on which it starts, from 1, and its
// fields without their quotes, which are the visitor's to keep. It ends where
// visit returns false. It is for those who look at a text that no profile
// describes yet.
func Records(text []byte, delim byte, visit func(line int, fields []string) bool) {
	line := 1
	for at := 0; at < len(text); {
		n, _ := recordLen(text[at:], delim)
		whole := text[at : at+n]
		rec := trimEnd(whole)
		if !isBlank(rec, delim) {
			plain, fields, _ := splitQuoted(rec, delim, nil, nil, nil)
			texts := make([]string, len(fields))
			for i, f := range fields {
				texts[i] = string(f.of(plain))
			}
			if !visit(line, texts) {
				return
			}
		}
		line += bytes.Count(whole, []byte{'\n'})
		at += n
	}
}
