package infer

import (
	"bytes"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// An encoded text's encoding, as a profile names it, and how it was found.
type encoded struct {
	name       string // "": utf-8, or what a byte order mark says
	shown      string
	confidence Confidence
	reason     string
}

// decode finds a text's encoding and makes it UTF-8. ok is false where it is no
// text, or in an encoding that no reader knows.
func decode(raw []byte) (text []byte, e encoded, ok bool) {
	marked := bytes.HasPrefix(raw, []byte{0xff, 0xfe}) || bytes.HasPrefix(raw, []byte{0xfe, 0xff})
	if marked || zeros(raw, 1) > zeros(raw, 0)*4+len(raw)/8 {
		text, err := unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewDecoder().Bytes(raw)
		if err != nil {
			return nil, encoded{}, false
		}
		if marked {
			return text, encoded{"utf-16", "utf-16", High, "the file starts with its byte order mark"}, true
		}
		return text, encoded{"utf-16", "utf-16", Fair, "every second byte is zero"}, true
	}
	if bytes.IndexByte(raw, 0) >= 0 {
		return nil, encoded{}, false
	}
	raw = bytes.TrimPrefix(raw, []byte("\xef\xbb\xbf"))
	valid := raw
	for i := 0; i < 3 && len(valid) > 0 && !utf8.Valid(valid); i++ { // a text cut within a letter
		valid = valid[:len(valid)-1]
	}
	if utf8.Valid(valid) {
		if isASCII(raw) {
			return raw, encoded{"", "utf-8", High, "plain ASCII, which every encoding reads alike"}, true
		}
		return raw, encoded{"utf-8", "utf-8", High, "every byte fits"}, true
	}
	// 0x80 to 0x9f are control characters in latin-1 and signs in windows-1252.
	name, reason := "latin-1", "it is not UTF-8, and latin-1 and windows-1252 read it alike"
	for _, b := range raw {
		if b >= 0x80 && b < 0xa0 {
			name, reason = "windows-1252", "it is not UTF-8, and has signs that latin-1 lacks"
			break
		}
	}
	cm := charmap.ISO8859_1
	if name == "windows-1252" {
		cm = charmap.Windows1252
	}
	text, err := cm.NewDecoder().Bytes(raw)
	return text, encoded{name, name, Fair, reason}, err == nil
}

// zeros counts the zero bytes at even (0) or odd (1) places.
func zeros(b []byte, odd int) int {
	n := 0
	for i := odd; i < len(b); i += 2 {
		if b[i] == 0 {
			n++
		}
	}
	return n
}

func isASCII(b []byte) bool {
	for _, c := range b {
		if c >= 0x80 {
			return false
		}
	}
	return true
}
