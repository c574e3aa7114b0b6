package main

import (
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"coldbench/metrics"
	"coldbench/metrics/edition"
	"coldbench/reports/terminal"
	"coldbench/warehouse"
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
			read, ok, err := a.ingest(cmd.Context(), s)
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
			if !fine || !ok || l != nil || more != nil {
				return errProblems
			}
			return nil
		},
	}
}

// checked prints what was read, what gates say, and which figures are missing.
func (a *app) checked(e *edition.Edition) {
	rows := [][]string{{"source", "read", "kept", "set aside"}}
	for _, s := range e.Sessions {
		for _, src := range s.Sources {
			rows = append(rows, []string{src.Path, fmt.Sprint(src.RowsRead), fmt.Sprint(src.RowsKept), fmt.Sprint(src.Aside)})
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
