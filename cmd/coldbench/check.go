package main

import (
	"context"
	"fmt"
	"path"
	"path/filepath"

	"github.com/spf13/cobra"

	"coldbench/metrics"
	"coldbench/metrics/edition"
	"coldbench/reports/terminal"
	"coldbench/warehouse"
	"coldbench/warehouse/diag"
)

func (a *app) checkCmd() *cobra.Command {
	return &cobra.Command{
		Use:   "check [DIR]",
		Short: "Say what is missing, odd or against the protocol, without ranking",
		Args:  cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			dir := seriesArg(args)
			s, fine, err := a.readSeries(dir)
			if err != nil {
				return err
			}
			if s == nil {
				return errProblems
			}
			read, _, ok, err := a.ingest(cmd.Context(), s)
			if err != nil {
				return err
			}
			fmt.Fprintln(a.err, read)
			cat, l, err := metrics.Load(filepath.Join(dir, "figures"))
			if err != nil {
				return err
			}
			a.print(l)
			w, err := warehouse.OpenWorkspace(cmd.Context(), warehouseFile(dir), warehouse.Limits{})
			if err != nil {
				return err
			}
			defer w.Close()
			e, more, err := compute(cmd.Context(), w, s, cat)
			if err != nil {
				return err
			}
			a.print(more)
			a.checked(e)
			odd, err := stuck(cmd.Context(), w, cat)
			if err != nil {
				return err
			}
			a.print(odd)
			if !fine || !ok || l != nil || more != nil || odd != nil {
				return errProblems
			}
			return nil
		},
	}
}

// stuck tells of sensors that hold one value while other channels show that they
// must have moved.
func stuck(ctx context.Context, w *warehouse.Workspace, cat *metrics.Catalogue) (diag.List, error) {
	found, err := cat.FindStuck(ctx, w)
	if err != nil {
		return nil, err
	}
	var l diag.List
	for _, s := range found {
		l.Add(diag.Pos{File: s.Path, Line: int(s.FromLine)}, "%s holds %g up to line %d, %.0f to %.0f min after the zero, and %s",
			s.Channel, s.Value, s.ToLine, s.FromS/60, s.ToS/60, s.Witness).WithHint("is the sensor stuck, or does the logger repeat an old value?")
	}
	return l, nil
}

// checked prints what was read, what gates say, and which figures are missing.
func (a *app) checked(e *edition.Edition) {
	rows := [][]string{{"source", "read", "kept", "set aside"}}
	for _, s := range e.Sessions {
		for _, src := range s.Sources {
			file := src.Path
			if src.Continues != "" {
				file += ", goes on from " + path.Base(src.Continues)
			}
			rows = append(rows, []string{file, fmt.Sprint(src.RowsRead), fmt.Sprint(src.RowsKept), fmt.Sprint(src.Aside)})
		}
	}
	terminal.Table(a.out, rows, a.width())
	rows = [][]string{{"session", "gate", "verdict", "reason"}}
	for _, g := range e.Gates {
		if g.Verdict != edition.Passed {
			rows = append(rows, []string{g.Session, g.Gate, string(g.Verdict), g.Reason})
		}
	}
	if len(rows) > 1 {
		fmt.Fprintln(a.out, "\nGates that are not passed")
		terminal.Table(a.out, rows, a.width())
	}
	rows = [][]string{{"session", "figure", "status", "reason"}}
	for _, f := range e.Results {
		if f.Status != edition.Measured {
			rows = append(rows, []string{f.Session, f.Figure, string(f.Status), f.Note})
		}
	}
	if len(rows) > 1 {
		fmt.Fprintln(a.out, "\nFigures that are missing, bounded or from a worse source")
		terminal.Table(a.out, rows, a.width())
	}
}
