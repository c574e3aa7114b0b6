package clock

import (
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
		{"serial day", series.Clock{Format: "serial-day"}, "", []string{"44784.981249999997"}, []string{"2022-08-11T21:33:00"}},
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
		if y := time.UnixMicro(us).UTC().Year(); err == nil && (y < 1899 || y > 2201) {
			t.Errorf("%q by %q is in year %d", text, format, y)
		}
	})
}
