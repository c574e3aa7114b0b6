package series

import (
	"testing"
	"time"

	"github.com/pelletier/go-toml/v2"
)

// Central Europe's changes of 2026: clocks go from 02:00 to 03:00 on 29 March and
// from 03:00 to 02:00 on 25 October (Directive 2000/84/EC: 01:00 UTC on the last
// Sundays of March and October).
func TestWall(t *testing.T) {
	oslo, err := time.LoadLocation("Europe/Oslo")
	if err != nil {
		t.Fatal(err)
	}
	check := func(wall, want string, ok bool) {
		t.Helper()
		var v toml.LocalDateTime
		if err := v.UnmarshalText([]byte(wall)); err != nil {
			t.Fatal(err)
		}
		at, got := Wall(v, oslo)
		if got != ok || ok && at.UTC().Format("2006-01-02T15:04:05") != want {
			t.Errorf("%s is %v, %v; want %s, %v", wall, at.UTC(), got, want, ok)
		}
	}
	check("2026-01-12T20:12:30", "2026-01-12T19:12:30", true)
	check("2026-10-25T01:59:59", "2026-10-24T23:59:59", true)
	check("2026-10-25T02:10:00", "2026-10-25T00:10:00", true) // the first of two
	check("2026-10-25T03:00:00", "2026-10-25T02:00:00", true)
	check("2026-03-29T02:30:00", "", false)
	check("2026-03-29T03:00:00", "2026-03-29T01:00:00", true)
}
