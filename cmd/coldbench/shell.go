package main

import "strings"

// shellPlain are the characters beside letters and digits of ASCII that mean
// nothing to a shell, wherever they stand.
const shellPlain = "/._-+,:@%"

// shellWord is a text as a POSIX shell takes it for one word (POSIX.1-2017, Shell
// Command Language, 2.2.2): as it is where nothing in it means anything to the
// shell, else in single quotes. What is printed for people to type goes through it.
func shellWord(s string) string {
	special := func(r rune) bool {
		return (r < '0' || r > '9') && (r < 'a' || r > 'z') && (r < 'A' || r > 'Z') && !strings.ContainsRune(shellPlain, r)
	}
	if s != "" && !strings.ContainsFunc(s, special) {
		return s
	}
	return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
}
