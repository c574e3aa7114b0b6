package notes

import (
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode"

	"coldbench/warehouse/diag"
)

// Dates as people write them beside the one way that notes have. What may be a
// time itself, as 11.01.26 and 11.01, is a date only before another, or alone in its
// line. After a second one with points comes a word, so that it is no reading.
var (
	dated     = regexp.MustCompile(`^(?:(\d{4})([./-])(\d{1,2})[./-](\d{1,2})|(\d{1,2})([./-])(\d{1,2})[./-](\d{4}))(?:[,;:T]|\s|$)`)
	shortDate = regexp.MustCompile(`^(\d{1,2}[./]\d{1,2}(?:\.|[./]\d{2})?)[,;]?\s+\d{1,2}(?:[:h]\d{2}|\.\d{2}\s+\pL{3})`)
	aloneDate = regexp.MustCompile(`^(\d{1,2}[./]\d{1,2}(?:\.|[./]\d{2})?)$`)
	wordsDate = regexp.MustCompile(`^((?:` + weekday + `,?\s+)?(?:` + dayOf + `\s+` + month + `|` + month + `\s+` + dayOf + `)(?:,?\s+\d{4})?)(?:[,;:]|\s+\d{1,2}[:.h]\d{2}|$)`)
	weekDate  = regexp.MustCompile(`^(` + weekday + `,?\s+\d{1,4}[./-]\d{1,2}(?:[./-]\d{0,4})?)(?:[,;:]|\s|$)`)
)

const (
	weekday = `(?i:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?`
	dayOf   = `\d{1,2}(?:st|nd|rd|th|\.)?`
	month   = `(?i:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?`
)

// mayBeDay reports whether a text that begins with two numbers may be a day and a month;
// one with words is.
func mayBeDay(text string) bool {
	if strings.ContainsFunc(text, unicode.IsLetter) {
		return true
	}
	var n []int
	for _, digits := range strings.FieldsFunc(text, func(r rune) bool { return r < '0' || r > '9' }) {
		if k, err := strconv.Atoi(digits); err == nil {
			n = append(n, k)
		}
	}
	return min(n[0], n[1]) >= 1 && min(n[0], n[1]) <= 12 && max(n[0], n[1]) <= 31
}

// otherDate tells of a note that starts with a date of another way; nil if it does not.
func otherDate(line string) *diag.Diagnostic {
	const order = "write the day as year-month-day, such as 2026-12-31"
	for _, pattern := range []*regexp.Regexp{shortDate, aloneDate, wordsDate, weekDate} {
		if m := pattern.FindStringSubmatch(line); m != nil && mayBeDay(m[1]) {
			return diag.New(diag.Pos{}, "the note's date %q cannot be read", m[1]).WithHint(order)
		}
	}
	m := dated.FindStringSubmatchIndex(line)
	if m == nil {
		return nil
	}
	part := func(i int) (n int) {
		if m[2*i] >= 0 {
			n, _ = strconv.Atoi(line[m[2*i]:m[2*i+1]])
		}
		return n
	}
	var days []string
	add := func(year, month, day int) {
		if t := time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC); t.Day() == day && t.Month() == time.Month(month) {
			days = append(days, t.Format(time.DateOnly))
		}
	}
	end := m[9]
	if m[2] >= 0 {
		add(part(1), part(3), part(4))
	} else {
		end = m[17]
		add(part(8), part(7), part(5))
		// Dates with points are day-first everywhere, with strokes in some places only.
		if line[m[12]] == '/' && part(5) != part(7) {
			add(part(8), part(5), part(7))
		}
	}
	d := diag.New(diag.Pos{}, "the note's date %q cannot be read", line[:end])
	if len(days) != 1 {
		return d.WithHint(order)
	}
	return d.WithHint("write the day as %s", days[0])
}
