package main

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"coldbench/metrics"
	"coldbench/metrics/edition"
	"coldbench/reports/terminal"
	"coldbench/warehouse"
	"coldbench/warehouse/diag"
)

func (a *app) checkCmd() *cobra.Command {
	var session string
	cmd := &cobra.Command{
		Use:   "check [DIR]",
		Short: "Say what is missing, odd or against the protocol, without ranking",
		Long: "check reads the logs that changed and says what is odd about them, which gates sessions do not pass,\n" +
			"and which figures are missing, bounded or from a worse source, with the reason. It ranks no car and\n" +
			"writes no edition. What several sessions share is told once; --session tells all of one.",
		Args: cobra.MaximumNArgs(1),
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
			ids := make([]string, len(e.Sessions))
			for i, x := range e.Sessions {
				ids[i] = x.ID
			}
			if session != "" && !slices.Contains(ids, session) {
				return diag.New(diag.Pos{File: dir}, "there is no session %q", session).WithHint("%s", diag.OneOf(session, ids))
			}
			terminal.Check(a.out, e, session, a.width())
			odd, err := stuck(cmd.Context(), w, cat, e)
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
	cmd.Flags().StringVar(&session, "session", "", "tell all of this session alone")
	return cmd
}

// stuck tells of sensors that hold one value while other channels show that they
// must have moved.
func stuck(ctx context.Context, w *warehouse.Workspace, cat *metrics.Catalogue, e *edition.Edition) (diag.List, error) {
	found, err := cat.FindStuck(ctx, w, e)
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
