package jsonlines

import (
	"bytes"
	"encoding/json"
	"strconv"

	"coldbench/ingest/profile"
)

// A walker finds values by name in a record's text, which must be valid JSON.
type walker struct {
	slots  map[string]int  // by name
	within map[string]bool // names of objects and arrays that hold any of them
	cells  []profile.Cell
	cols   []int  // of a slot's value in the record, in bytes from 1; 0: none
	twice  string // a name that the record has twice

	visit func(name []byte, leaf bool) // if not nil, called with every value's name instead

	text []byte
	name []byte
}

// want has the walker put the value of a name into a slot.
func (w *walker) want(name string, slot int) {
	w.slots[name] = slot
	for i, c := range []byte(name) {
		if c == '.' {
			w.within[name[:i]] = true
		}
	}
}

// walk walks a record.
func (w *walker) walk(text []byte) {
	w.text, w.name = text, w.name[:0]
	w.value(w.space(0), true)
}

// value walks the value that starts at i and returns the place behind it. Within
// it nothing is looked for unless open is set.
func (w *walker) value(i int, open bool) int {
	from := i
	switch w.text[i] {
	case '{':
		i = w.items(i, '}', open)
	case '[':
		i = w.items(i, ']', open)
	case '"':
		i = stringEnd(w.text, i)
	default:
		for i < len(w.text) && bytes.IndexByte([]byte(",]} \t\r\n"), w.text[i]) < 0 {
			i++
		}
	}
	if len(w.name) > 0 {
		w.found(from, i)
	}
	return i
}

// items walks an object or an array, whose bracket opens at i.
func (w *walker) items(i int, end byte, open bool) int {
	n := len(w.name)
	i = w.space(i + 1)
	for index := 0; w.text[i] != end; index++ {
		if w.text[i] == ',' {
			i = w.space(i + 1)
		}
		var key []byte
		if end == '}' {
			from := i
			i = stringEnd(w.text, i)
			key = unquoted(w.text[from:i])
			i = w.space(w.space(i) + 1) // the colon
		}
		if open {
			if n > 0 {
				w.name = append(w.name, '.')
			}
			if end == '}' {
				w.name = append(w.name, key...)
			} else {
				w.name = strconv.AppendInt(w.name, int64(index), 10)
			}
			i = w.value(i, w.visit != nil || w.within[string(w.name)])
			w.name = w.name[:n]
		} else {
			i = w.skip(i)
		}
		i = w.space(i)
	}
	return i + 1
}

// skip returns the place behind the value that starts at i.
func (w *walker) skip(i int) int {
	depth := 0
	for {
		switch w.text[i] {
		case '{', '[':
			depth++
			i++
		case '}', ']':
			depth--
			i++
		case '"':
			i = stringEnd(w.text, i)
		case ',', ':', ' ', '\t', '\r', '\n':
			i++
			continue
		default:
			for i < len(w.text) && bytes.IndexByte([]byte(",]} \t\r\n"), w.text[i]) < 0 {
				i++
			}
		}
		if depth == 0 {
			return i
		}
	}
}

func (w *walker) found(from, to int) {
	if w.visit != nil {
		w.visit(w.name, w.text[from] != '{' && w.text[from] != '[')
		return
	}
	slot, ok := w.slots[string(w.name)]
	if !ok {
		return
	}
	if w.cols[slot] > 0 {
		w.twice = string(w.name)
	}
	w.cols[slot] = from + 1
	switch text := w.text[from:to]; text[0] {
	case '"':
		w.cells[slot] = profile.Text(unquoted(text))
	case 'n':
		w.cells[slot] = profile.Cell{}
	case 't', 'f', '{', '[':
		w.cells[slot] = profile.Text(text)
	default:
		w.cells[slot] = profile.Digits(text)
	}
}

func (w *walker) space(i int) int {
	for i < len(w.text) && isSpace(w.text[i]) {
		i++
	}
	return i
}

func isSpace(c byte) bool { return c == ' ' || c == '\t' || c == '\r' || c == '\n' }

// stringEnd is the place behind the string that starts at b[i].
func stringEnd(b []byte, i int) int {
	for i++; b[i] != '"'; i++ {
		if b[i] == '\\' {
			i++
		}
	}
	return i + 1
}

// unquoted is the text of a string.
func unquoted(b []byte) []byte {
	if bytes.IndexByte(b, '\\') < 0 {
		return b[1 : len(b)-1]
	}
	var s string
	if err := json.Unmarshal(b, &s); err != nil {
		return b // it is valid: its record was checked
	}
	return []byte(s)
}
