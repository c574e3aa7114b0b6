// Package bundle writes an edition as data for other programs: CSV files as in
// RFC 4180, with the unit in the header or in a column of its own, and the
// whole edition as JSON. Numbers are written with all their digits.
package bundle

import (
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"coldbench/metrics/edition"
)

// EditionFile is the name of the JSON file that holds the whole edition.
const EditionFile = "edition.json"

// Write writes the edition's data into the folder dir, which must exist.
func Write(dir string, e *edition.Edition, logs []edition.Log) error {
	for _, f := range []struct {
		name  string
		write func(io.Writer) error
	}{
		{EditionFile, e.Write},
		{"standings.csv", table(standings(e))},
		{"figures.csv", table(figures(e))},
		{"gates.csv", table(gates(e))},
		{"sessions.csv", table(sessions(e))},
		{"sources.csv", table(sources(e))},
		{"minutes.csv", table(minutes(logs))},
		{"events.csv", table(events(logs))},
	} {
		if err := create(filepath.Join(dir, f.name), f.write); err != nil {
			return fmt.Errorf("bundle: %w", err)
		}
	}
	return nil
}

func create(name string, write func(io.Writer) error) error {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	if err := write(f); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

func table(rows [][]string) func(io.Writer) error {
	return func(w io.Writer) error {
		cw := csv.NewWriter(w)
		cw.UseCRLF = true // RFC 4180, 2.1
		return cw.WriteAll(rows)
	}
}

func num(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'g', -1, 64)
}

func standings(e *edition.Edition) [][]string {
	head := []string{"place", "best place (95 %)", "worst place (95 %)", "vehicle", "name", "points", "standard uncertainty (points)"}
	for _, s := range e.Scales {
		d := e.Definition(s.Figure)
		head = append(head, fmt.Sprintf("%s (%s)", s.Figure, d.Unit), fmt.Sprintf("%s, standard uncertainty (%s)", s.Figure, d.Unit), s.Figure+" (points)")
	}
	rows := [][]string{append(head, "sessions", "reason")}
	place := func(n int) string {
		if n == 0 {
			return ""
		}
		return strconv.Itoa(n)
	}
	for _, s := range e.Standings {
		row := []string{place(s.Place), place(s.Lowest), place(s.Highest), s.Vehicle, e.Name(s.Vehicle), num(&s.Score), num(&s.U)}
		for _, v := range s.Values {
			row = append(row, num(v.Value), num(v.U), num(&v.Points))
		}
		rows = append(rows, append(row, strings.Join(s.Sessions, " "), s.Reason))
	}
	return rows
}

func figures(e *edition.Edition) [][]string {
	rows := [][]string{{"session", "figure", "value", "standard uncertainty", "unit", "status", "from (s)", "to (s)", "note"}}
	for _, f := range e.Results {
		rows = append(rows, []string{f.Session, f.Figure, num(f.Value), num(f.U), f.Unit, string(f.Status), num(f.From), num(f.To), f.Note})
	}
	return rows
}

func gates(e *edition.Edition) [][]string {
	rows := [][]string{{"session", "gate", "verdict", "reason"}}
	for _, g := range e.Gates {
		rows = append(rows, []string{g.Session, g.Gate, string(g.Verdict), g.Reason})
	}
	return rows
}

func sessions(e *edition.Edition) [][]string {
	rows := [][]string{{"session", "vehicle", "procedure", "zero (UTC)", "zero from", "problem", "remark"}}
	for _, s := range e.Sessions {
		zero := ""
		if !s.Zero.IsZero() {
			zero = s.Zero.UTC().Format(time.RFC3339)
		}
		rows = append(rows, []string{s.ID, s.Vehicle, s.Procedure, zero, s.ZeroFrom, s.Problem, s.Remark})
	}
	return rows
}

func sources(e *edition.Edition) [][]string {
	rows := [][]string{{"session", "path", "kind", "profile", "sha256", "bytes", "rows read", "rows kept", "rows set aside", "clock offset (s)"}}
	for _, ses := range e.Sessions {
		for _, s := range ses.Sources {
			rows = append(rows, []string{ses.ID, s.Path, s.Kind, s.Profile, s.SHA256, fmt.Sprint(s.Bytes),
				fmt.Sprint(s.RowsRead), fmt.Sprint(s.RowsKept), fmt.Sprint(s.Aside), num(&s.OffsetS)})
		}
	}
	return rows
}

func minutes(logs []edition.Log) [][]string {
	rows := [][]string{{"session", "minute since plug-in", "pack power (kW)", "charger power (kW)", "heater power (kW)", "displayed SoC (%)",
		"coldest pack sensor (°C)", "hottest pack sensor (°C)", "ambient (°C)", "cabin (°C)"}}
	for _, l := range logs {
		for _, m := range l.Minutes {
			rows = append(rows, []string{l.Session, strconv.Itoa(m.Minute), num(m.PackKW), num(m.ChargerKW), num(m.HeaterKW), num(m.SoCPct),
				num(m.PackMinC), num(m.PackMaxC), num(m.AmbientC), num(m.CabinC)})
		}
	}
	return rows
}

func events(logs []edition.Log) [][]string {
	rows := [][]string{{"session", "time since plug-in (s)", "interval (s)", "event", "text", "source", "line"}}
	for _, l := range logs {
		for _, ev := range l.Events {
			rows = append(rows, []string{l.Session, num(&ev.T), num(&ev.WidthS), ev.Kind, ev.Text, ev.Path, fmt.Sprint(ev.Line)})
		}
	}
	return rows
}
