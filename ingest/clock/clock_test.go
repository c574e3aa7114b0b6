package clock

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/series"
)

func start(t *testing.T, s string) toml.LocalDateTime {
	t.Helper()
	var l toml.LocalDateTime
	if s != "" {
		if err := l.UnmarshalText([]byte(s)); err != nil {
			t.Fatal(err)
		}
	}
	return l
}

func TestResolver(t *testing.T) {
	oslo, err := time.LoadLocation("Europe/Oslo")
	if err != nil {
		t.Fatal(err)
	}
	const wall = "2006-01-02T15:04:05.999999"
	for _, c := range []struct {
		name  string
		clock series.Clock
		start string
		in    []string // "time" or "date|time"
		want  []string // UTC
	}{
		{"elapsed s", series.Clock{Format: "elapsed"}, "2026-01-12T20:00:00", []string{"0", "1.5"}, []string{"2026-01-12T19:00:00", "2026-01-12T19:00:01.5"}},
		{"elapsed us", series.Clock{Format: "elapsed", Unit: "us"}, "2026-01-12T20:00:00", []string{"559068419"}, []string{"2026-01-12T19:09:19.068419"}},
		{"elapsed min", series.Clock{Format: "elapsed", Unit: "min"}, "2026-01-12T20:00:00", []string{"0.5"}, []string{"2026-01-12T19:00:30"}},
		{"epoch ms", series.Clock{Format: "epoch", Unit: "ms"}, "", []string{"1768244400000"}, []string{"2026-01-12T19:00:00"}},
		{"iso local and zoned", series.Clock{Format: "iso"}, "", []string{"2026-01-12T20:00:00", "2026-01-12 20:00", "2026-01-12T20:00:00,25Z", "2026-01-12T20:00:00+02:00"},
			[]string{"2026-01-12T19:00:00", "2026-01-12T19:00:00", "2026-01-12T20:00:00.25", "2026-01-12T18:00:00"}},
		{"day first", series.Clock{Format: "%d.%m.%Y %H:%M:%S"}, "", []string{"03.02.2026 20:00:00"}, []string{"2026-02-03T19:00:00"}},
		{"month first, 12 hours", series.Clock{Format: "%m/%d/%y %I:%M:%S %p"}, "", []string{"02/03/26 12:00:01 am", "02/03/26 8:15:00 PM"}, []string{"2026-02-02T23:00:01", "2026-02-03T19:15:00"}},
		{"month's name and fraction", series.Clock{Format: "%d %b %Y %H:%M:%S.%f"}, "", []string{"03 Feb 2026 20:00:00.125"}, []string{"2026-02-03T19:00:00.125"}},
		{"over midnight", series.Clock{Format: "%H:%M"}, "2026-01-12T20:00:00", []string{"23:59", "00:01", "12:30", "00:02"},
			[]string{"2026-01-12T22:59:00", "2026-01-12T23:01:00", "2026-01-13T11:30:00", "2026-01-13T23:02:00"}},
		{"two columns", series.Clock{Format: "%d.%m.%Y %H:%M:%S", Date: "date"}, "", []string{"03.02.2026|20:00:00"}, []string{"2026-02-03T19:00:00"}},
		// The clocks of Europe/Oslo went back at 2026-10-25 03:00 to 02:00 (IANA tz database).
		{"autumn's hour twice", series.Clock{Format: "iso"}, "", []string{"2026-10-25T01:59:00", "2026-10-25T02:30:00", "2026-10-25T02:59:00", "2026-10-25T02:00:00", "2026-10-25T03:00:00"},
			[]string{"2026-10-24T23:59:00", "2026-10-25T00:30:00", "2026-10-25T00:59:00", "2026-10-25T01:00:00", "2026-10-25T02:00:00"}},
		{"spring", series.Clock{Format: "iso"}, "", []string{"2026-03-29T01:59:59", "2026-03-29T03:00:00"}, []string{"2026-03-29T00:59:59", "2026-03-29T01:00:00"}},
		// 25569 is 1970-01-01; 44784 - 25569 = 19215 days is 2022-08-11, and
		// .98125 of a day 23:33, local.
		{"serial day", series.Clock{Format: "serial-day"}, "", []string{"44784.981249999997", "44784.9812499"}, []string{"2022-08-11T21:33:00", "2022-08-11T21:32:59.9914"}},
		{"epoch with decimals", series.Clock{Format: "epoch"}, "", []string{"1768244400.123456", "1768244400.1234567891234567", "1.7682444e9", "+1768244400.5"},
			[]string{"2026-01-12T19:00:00.123456", "2026-01-12T19:00:00.123457", "2026-01-12T19:00:00", "2026-01-12T19:00:00.5"}},
		{"elapsed before the start", series.Clock{Format: "elapsed", Unit: "h"}, "2026-01-12T20:00:00.5", []string{"-0.25", "15e-1"}, []string{"2026-01-12T18:45:00.5", "2026-01-12T20:30:00.5"}},
		{"iso basic", series.Clock{Format: "iso"}, "", []string{"20260112T200000", "20260112T2000Z", "20260112 200000.5+0200"}, []string{"2026-01-12T19:00:00", "2026-01-12T20:00:00", "2026-01-12T18:00:00.5"}},
		{"iso, two columns, 24:00", series.Clock{Format: "iso", Date: "date"}, "", []string{"2026-01-12|24:00"}, []string{"2026-01-12T23:00:00"}},
		{"day of the year", series.Clock{Format: "%Y-%j %R%z"}, "", []string{"2024-366 23:00+0100", "2026-1 1:05Z"}, []string{"2024-12-31T22:00:00", "2026-01-01T01:05:00"}},
		{"shorthands", series.Clock{Format: "%a %F %T %%"}, "", []string{"Mon 2026-01-12 20:00:00 %", "monday 2026-01-12 20:00:01 %"}, []string{"2026-01-12T19:00:00", "2026-01-12T19:00:01"}},
		{"as ctime writes", series.Clock{Format: "%a %b %e %H:%M:%S %Y"}, "", []string{"Fri Jan  2 20:00:00 2026", "Mon May 12 20:00:00 2026"}, []string{"2026-01-02T19:00:00", "2026-05-12T18:00:00"}},
		{"year from the start", series.Clock{Format: "%d.%m. %H:%M"}, "2025-12-31T20:00:00", []string{"31.12. 23:59", "01.01. 00:01"}, []string{"2025-12-31T22:59:00", "2025-12-31T23:01:00"}},
		{"29 February of the next year", series.Clock{Format: "%d.%m. %H:%M"}, "2027-12-31T20:00:00", []string{"29.02. 12:00"}, []string{"2028-02-29T11:00:00"}},
		{"first row after the start's midnight", series.Clock{Format: "%H:%M"}, "2026-01-12T23:58:00", []string{"00:01"}, []string{"2026-01-12T23:01:00"}},
		// Rows out of order around midnight do not make it two midnights.
		{"midnight in disorder", series.Clock{Format: "%T"}, "2026-01-12T20:00:00", []string{"23:59:58", "00:00:00", "23:59:59", "00:00:01"},
			[]string{"2026-01-12T22:59:58", "2026-01-12T23:00:00", "2026-01-12T22:59:59", "2026-01-12T23:00:01"}},
		// Midnight of the day on which autumn's hour repeats, by a clock without a date.
		{"autumn without a date", series.Clock{Format: "%H:%M"}, "2026-10-24T23:00:00", []string{"23:30", "02:30", "02:00", "02:30", "03:00"},
			[]string{"2026-10-24T21:30:00", "2026-10-25T00:30:00", "2026-10-25T01:00:00", "2026-10-25T01:30:00", "2026-10-25T02:00:00"}},
		{"autumn by name", series.Clock{Format: "%F %R %Z"}, "", []string{"2026-10-25 02:30 CET", "2026-10-25 02:30 CEST", "2026-10-25 02:30 UTC"},
			[]string{"2026-10-25T01:30:00", "2026-10-25T00:30:00", "2026-10-25T02:30:00"}},
		// Half a second back is disorder, not the hour repeating; an early stray is no reason to forget where the clock was.
		{"autumn in disorder", series.Clock{Format: "iso"}, "", []string{"2026-10-25T02:30:00", "2026-10-25T02:29:59.5", "2026-10-25T01:00:00", "2026-10-25T02:10:00"},
			[]string{"2026-10-25T00:30:00", "2026-10-25T00:29:59.5", "2026-10-24T23:00:00", "2026-10-25T01:10:00"}},
		{"start in autumn's hour", series.Clock{Format: "elapsed", Unit: "min"}, "2026-10-25T02:30:00", []string{"0", "60"}, []string{"2026-10-25T00:30:00", "2026-10-25T01:30:00"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := New(c.clock, oslo, start(t, c.start), 0)
			if err != nil {
				t.Fatal(err)
			}
			for i, in := range c.in {
				date, text, two := strings.Cut(in, "|")
				if !two {
					date, text = "", in
				}
				us, err := r.Micros(text, date)
				if err != nil {
					t.Fatalf("%s: %v", in, err)
				}
				if got := time.UnixMicro(us).UTC().Format(wall); got != c.want[i] {
					t.Errorf("%s = %s, want %s", in, got, c.want[i])
				}
			}
		})
	}
}

func TestStartInSpringsGap(t *testing.T) {
	oslo, err := time.LoadLocation("Europe/Oslo")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := New(series.Clock{Format: "elapsed"}, oslo, start(t, "2026-03-29T02:30:00"), 0); !errors.Is(err, errGap) {
		t.Errorf("got %v, want that there is no such time", err)
	}
}

func TestDecimalComma(t *testing.T) {
	for format, c := range map[string]struct {
		in   string
		want int64
	}{"epoch": {"10,25", 10_250_000}, "serial-day": {"25569,5", 43200_000_000}} {
		r, err := New(series.Clock{Format: format}, time.UTC, toml.LocalDateTime{}, 0)
		if err != nil {
			t.Fatal(err)
		}
		r.SetDecimal(',')
		if us, err := r.Micros(c.in, ""); err != nil || us != c.want {
			t.Errorf("%s %s = %d, %v, want %d", format, c.in, us, err, c.want)
		}
		if _, err := r.Micros(strings.ReplaceAll(c.in, ",", "."), ""); err == nil {
			t.Errorf("%s took a point for a comma", format)
		}
	}
}

// Every day that a log may show, against the standard library.
func TestDays(t *testing.T) {
	for d := time.Date(1900, 1, 1, 0, 0, 0, 0, time.UTC); d.Year() < 2201; d = d.AddDate(0, 0, 1) {
		if got := days(d.Year(), int(d.Month()), d.Day()); got != d.Unix()/86400 {
			t.Fatalf("%s is day %d, want %d", d.Format(time.DateOnly), got, d.Unix()/86400)
		}
	}
}

// A log has millions of rows; resolving one allocates nothing.
func TestNoAllocation(t *testing.T) {
	oslo, err := time.LoadLocation("Europe/Oslo")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		clock      series.Clock
		text, date string
	}{
		{series.Clock{Format: "elapsed"}, "12345.678", ""},
		{series.Clock{Format: "epoch", Unit: "ms"}, "1768244400000", ""},
		{series.Clock{Format: "iso"}, "2026-01-12T20:00:00.123+01:00", ""},
		{series.Clock{Format: "iso"}, "2026-10-25 02:30:00", ""}, // on the day of a change
		{series.Clock{Format: "serial-day"}, "44784.98125", ""},
		{series.Clock{Format: "%d.%m.%Y %H:%M:%S,%f"}, "20:00:00,5", "12.01.2026"},
		{series.Clock{Format: "%d %b %y %I:%M:%S %p %Z"}, "12 Jan 26 08:00:00 pm CET", ""},
		{series.Clock{Format: "%H:%M:%S"}, "20:00:00", ""},
	} {
		r, err := New(c.clock, oslo, start(t, "2026-01-12T20:00:00"), 0)
		if err != nil {
			t.Fatal(err)
		}
		text, date := []byte(c.text), []byte(c.date)
		n := testing.AllocsPerRun(100, func() {
			if _, err := r.Resolve(text, date); err != nil {
				t.Fatal(err)
			}
		})
		if n != 0 {
			t.Errorf("%s %q: %v allocations", c.clock.Format, c.text, n)
		}
	}
}

func BenchmarkResolve(b *testing.B) {
	for _, c := range [...][2]string{{"epoch", "1768244400.125"}, {"iso", "2026-01-12 20:00:00.125"}, {"%d.%m.%Y %H:%M:%S", "12.01.2026 20:00:00"}} {
		b.Run(c[0], func(b *testing.B) {
			r, err := New(series.Clock{Format: c[0]}, time.UTC, toml.LocalDateTime{}, 0)
			if err != nil {
				b.Fatal(err)
			}
			text := []byte(c[1])
			for b.Loop() {
				if _, err := r.Resolve(text, nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func TestOffsetIsAdded(t *testing.T) {
	r, err := New(series.Clock{Format: "epoch"}, time.UTC, toml.LocalDateTime{}, -2.5)
	if err != nil {
		t.Fatal(err)
	}
	if us, err := r.Micros("10", ""); err != nil || us != 7_500_000 {
		t.Errorf("%d %v", us, err)
	}
}

func TestErrors(t *testing.T) {
	oslo, err := time.LoadLocation("Europe/Oslo")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		clock series.Clock
		in    string // "": New must fail
		want  string
	}{
		{series.Clock{Format: "elapsed"}, "", "unknown start"},
		{series.Clock{Format: "elapse"}, "", `did you mean "elapsed"?`},
		{series.Clock{Format: "%H:%M:%Q"}, "", "unknown %Q"},
		{series.Clock{Format: "%d.%m.%Y"}, "", "no hour"},
		{series.Clock{Format: "%H:%M"}, "", "no date"},
		{series.Clock{Format: "epoch", Unit: "hours"}, "", "unknown unit of time"},
		{series.Clock{Format: "iso"}, "2026-03-29T02:30:00", "there is no 2026-03-29 02:30:00 in Europe/Oslo"},
		{series.Clock{Format: "iso"}, "2026-02-30T02:30:00", "no such date"},
		{series.Clock{Format: "iso"}, "2026-02-20T25:30:00", "no such time of day"},
		{series.Clock{Format: "%d.%m.%Y %H:%M"}, "12.31.2026 10:00", "day and month the right way round"},
		{series.Clock{Format: "%d.%m.%Y %H:%M"}, "12.11.2026 10:00x", "does not fit"},
		{series.Clock{Format: "epoch"}, "NaN", "counts in numbers"},
		{series.Clock{Format: "epoch"}, "1768244400000", "is the clock's unit right?"},
		{series.Clock{Format: "epoch"}, "99999999999999999999", "counts in numbers"},
		{series.Clock{Format: "epoch"}, "1e99", "is the clock's unit right?"},
		{series.Clock{Format: "epoch"}, "0x10", "counts in numbers"},
		{series.Clock{Format: "epoch"}, "1768244400,5", "counts in numbers"},
		{series.Clock{Format: "epoch"}, " ", "counts in numbers"},
		{series.Clock{Format: "epoch"}, strings.Repeat("x", 1000), strings.Repeat("x", 60) + `...` + `"`},
		{series.Clock{Format: "epoch", Date: "day"}, "", "no date column"},
		{series.Clock{Format: "serial-day"}, "60.5", "a serial day"},
		{series.Clock{Format: "serial-day"}, "1768244400", "a serial day"},
		{series.Clock{Format: "iso"}, "0000-01-12T20:00:00", "no such date"},
		{series.Clock{Format: "iso"}, "2026-01-12", "ISO 8601"},
		{series.Clock{Format: "iso"}, "2026-01-12T20:00:00.", "ISO 8601"},
		{series.Clock{Format: "iso"}, "2026-01-12T20:00:00+01:60", "ISO 8601"},
		{series.Clock{Format: "iso"}, "2026-01-12T20:00:00+15:00", "ISO 8601"},
		{series.Clock{Format: "iso"}, "2026-0112T20:00:00", "ISO 8601"},
		{series.Clock{Format: "%Y %j %H"}, "2026 366 20", "no such date"},
		{series.Clock{Format: "%F %R %Z"}, "2026-01-12 20:00 EST", `"EST" is not what time in Europe/Oslo was called then`},
		{series.Clock{Format: "%F %I:%M %p"}, "2026-01-12 13:00 PM", "from 1 to 12"},
		{series.Clock{Format: "%d.%M.%Y %H:%M"}, "", "has the minute twice (%m is the month, %M the minute)"},
		{series.Clock{Format: "%d.%Y %H:%M"}, "", "half a date"},
		{series.Clock{Format: "%F %I:%M"}, "", "both %I and %p"},
		{series.Clock{Format: "%F %H:%M %p"}, "", "both %I and %p"},
		{series.Clock{Format: "%F %H:%"}, "", "ends in %"},
		{series.Clock{Format: "%d.%m. %H:%M"}, "", "shows no year"},
		{series.Clock{Format: "%H:%M", Date: "day"}, "", "no place for the date column"},
	} {
		r, err := New(c.clock, oslo, toml.LocalDateTime{}, 0)
		if err == nil && c.in != "" {
			_, err = r.Micros(c.in, "")
		}
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v %q: %v, want %q", c.clock, c.in, err, c.want)
		}
	}
}

func FuzzMicros(f *testing.F) {
	f.Add("iso", "2026-01-12T20:00:00+01:00")
	f.Add("%d.%m.%y %I:%M %p", "3.2.26 8:15 pm")
	f.Add("serial-day", "44784.98")
	f.Add("%j %Y %H%z", "366 2024 23+0100")
	oslo, err := time.LoadLocation("Europe/Oslo")
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, format, text string) {
		r, err := New(series.Clock{Format: format}, oslo, toml.LocalDateTime{LocalDate: toml.LocalDate{Year: 2026, Month: 1, Day: 12}}, 0)
		if err != nil {
			return
		}
		us, err := r.Micros(text, "")
		if want, perr := time.Parse(time.RFC3339Nano, text); format == "iso" && err == nil && perr == nil && us != want.UnixMicro() {
			t.Errorf("%q is %d, by the standard library %d", text, us, want.UnixMicro())
		}
		if y := time.UnixMicro(us).UTC().Year(); err == nil && (y < 1899 || y > 2201) {
			t.Errorf("%q by %q is in year %d", text, format, y)
		}
	})
}

// What typed files hold as a time, by the same rules as text.
func TestTyped(t *testing.T) {
	oslo, err := time.LoadLocation("Europe/Oslo")
	if err != nil {
		t.Fatal(err)
	}
	us := func(s string) int64 {
		at, err := time.Parse("2006-01-02T15:04:05.999999", s)
		if err != nil {
			t.Fatal(err)
		}
		return at.UnixMicro()
	}
	const hour = 60 * minute
	for _, c := range []struct {
		name  string
		clock series.Clock
		start string
		in    []func(*Resolver) (int64, error)
		want  []string
	}{
		{"counts", series.Clock{Format: "elapsed", Unit: "min"}, "2026-01-12T20:00:00", []func(*Resolver) (int64, error){
			func(r *Resolver) (int64, error) { return r.Number(0.5) },
			func(r *Resolver) (int64, error) { return r.Span(25 * hour) },
		}, []string{"2026-01-12T19:00:30", "2026-01-13T20:00:00"}},
		{"digits", series.Clock{Format: "%Y%m%d%H%M%S"}, "", []func(*Resolver) (int64, error){
			func(r *Resolver) (int64, error) { return r.Number(20260112201230) },
		}, []string{"2026-01-12T19:12:30"}},
		{"moments and wall times", series.Clock{}, "", []func(*Resolver) (int64, error){
			func(r *Resolver) (int64, error) { return r.Moment(us("2026-01-12T20:00:00.5")) },
			func(r *Resolver) (int64, error) { return r.Wall(us("2026-01-12T20:00:00.25")) },
			// Autumn's hour twice, as in TestResolver.
			func(r *Resolver) (int64, error) { return r.Wall(us("2026-10-25T02:30:00")) },
			func(r *Resolver) (int64, error) { return r.Wall(us("2026-10-25T02:00:00")) },
		}, []string{"2026-01-12T20:00:00.5", "2026-01-12T19:00:00.25", "2026-10-25T00:30:00", "2026-10-25T01:00:00"}},
		{"time of day over midnight", series.Clock{Format: "%H:%M:%S"}, "2026-01-12T20:00:00", []func(*Resolver) (int64, error){
			func(r *Resolver) (int64, error) { return r.Span(23*hour + 59*minute) },
			func(r *Resolver) (int64, error) { return r.Span(minute + 1) },
			func(r *Resolver) (int64, error) { return r.Span(24*hour + 2*minute) },
		}, []string{"2026-01-12T22:59:00", "2026-01-12T23:01:00.000001", "2026-01-12T23:02:00"}},
	} {
		r, err := New(c.clock, oslo, start(t, c.start), 0)
		if err != nil {
			t.Fatal(err)
		}
		r.SetDecimal(',')
		for i, in := range c.in {
			got, err := in(r)
			if err != nil || got != us(c.want[i]) {
				t.Errorf("%s, %d: %s, %v, want %s", c.name, i, time.UnixMicro(got).UTC(), err, c.want[i])
			}
		}
	}
	r, err := New(series.Clock{Format: "iso"}, oslo, start(t, ""), 0)
	if err != nil {
		t.Fatal(err)
	}
	for want, in := range map[string]func() (int64, error){
		`outside 1900 to 2200`:                   func() (int64, error) { return r.Moment(1 << 62) },
		`cannot read "72000" as a time`:          func() (int64, error) { return r.Span(20 * hour) },
		`there is no 2026-03-29 02:30:00`:        func() (int64, error) { return r.Wall(us("2026-03-29T02:30:00")) },
		`cannot read "1899-12-31T00:00:00" as a`: func() (int64, error) { return r.Wall(us("1899-12-31T00:00:00")) },
		`cannot read "NaN" as a time`:            func() (int64, error) { return r.Number(math.NaN()) },
	} {
		if _, err := in(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %s", err, want)
		}
	}
}
