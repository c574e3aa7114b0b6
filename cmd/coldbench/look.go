package main

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"coldbench/metrics"
	"coldbench/metrics/edition"
	"coldbench/reports"
	"coldbench/reports/terminal"
	"coldbench/warehouse"
	"coldbench/warehouse/diag"
)

// width is that of the terminal, or 0 where the output is none.
func (a *app) width() int {
	f, ok := a.data.(*os.File)
	if !ok {
		return 0
	}
	w, _, err := term.GetSize(int(f.Fd()))
	if err != nil {
		return 0
	}
	return w
}

// latest reads the newest edition of a series folder.
func (a *app) latest(dir string) (*edition.Edition, error) {
	names, err := reports.Editions(dir)
	if err != nil {
		return nil, err
	}
	if len(names) == 0 {
		if err := isSeries(dir); err != nil {
			return nil, err
		}
		return nil, diag.New(diag.Pos{File: dir}, "the series has no edition").WithHint("`coldbench run %s` makes one", shellWord(dir))
	}
	return reports.Read(dir, names[len(names)-1])
}

func (a *app) standingsCmd() *cobra.Command {
	var asJSON, windows, spread, categories, pairs bool
	cmd := &cobra.Command{
		Use:   "standings [DIR]",
		Short: "Print the ranking of the newest edition",
		Args:  cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			e, err := a.latest(seriesArg(args))
			if err != nil {
				return err
			}
			if asJSON {
				return e.Write(a.data)
			}
			terminal.Standings(a.out, e, a.width())
			if categories {
				terminal.Categories(a.out, e, a.width())
			}
			if pairs {
				terminal.Pairs(a.out, e, a.width())
			}
			if windows {
				terminal.Windows(a.out, e, a.width())
			}
			if spread {
				terminal.Variances(a.out, e, a.width())
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&spread, "spread", false, "and how far the sessions of one car differ, beside how far cars do")
	cmd.Flags().BoolVar(&categories, "categories", false, "and the ranking within each category of the points")
	cmd.Flags().BoolVar(&pairs, "pairs", false, "and how sure it is that one car is before another")
	cmd.Flags().BoolVar(&windows, "windows", false, "and what other windows of charge would make of the cars")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the edition as JSON")
	return cmd
}

func (a *app) changesCmd() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "changes DIR [EDITION EDITION]",
		Short: "Say what moved between two editions, the newest two unless named",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 && len(args) != 3 {
				return errors.New("changes needs a folder, and none or two editions")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			names, err := reports.Editions(args[0])
			if err != nil {
				return err
			}
			var pair []string
			switch {
			case len(args) == 3:
				pair = args[1:]
				for _, name := range pair {
					if !slices.Contains(names, name) {
						return diag.New(diag.Pos{File: args[0]}, "no edition %q", name).WithHint("%s", diag.OneOf(name, names))
					}
				}
			case len(names) < 2:
				return diag.New(diag.Pos{File: args[0]}, "two editions are needed, and the series has %d", len(names)).
					WithHint("`coldbench run %s` makes one when something changed", shellWord(args[0]))
			default:
				pair = names[len(names)-2:]
			}
			x, err := reports.Read(args[0], pair[0])
			if err != nil {
				return err
			}
			y, err := reports.Read(args[0], pair[1])
			if err != nil {
				return err
			}
			changes := edition.Compare(x, y)
			if asJSON {
				return json.NewEncoder(a.data).Encode(changes)
			}
			fmt.Fprintf(a.out, "From edition %s to %s\n", pair[0], pair[1])
			terminal.Changes(a.out, changes, a.width())
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print as JSON")
	return cmd
}

func (a *app) whyCmd() *cobra.Command {
	return &cobra.Command{
		Use:   "why DIR SESSION FIGURE",
		Short: "Show the readings, events, file and lines that a figure came from",
		Args:  needs(3, "DIR SESSION FIGURE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			dir, session, figure := args[0], args[1], args[2]
			e, err := a.latest(dir)
			if err != nil {
				return err
			}
			cat, l, err := metrics.Load(filepath.Join(dir, "figures"))
			if err != nil {
				return err
			}
			a.print(l)
			d, err := cat.FindFigure(figure)
			if err != nil {
				return err
			}
			var ids []string
			for _, s := range e.Sessions {
				ids = append(ids, s.ID)
				if s.ID == session && s.Problem != "" {
					return diag.New(diag.Pos{}, "session %q could not be read: %s", session, s.Problem)
				}
			}
			if !slices.Contains(ids, session) {
				return diag.New(diag.Pos{}, "edition %s has no session %q", e.ID, session).WithHint("%s", diag.OneOf(session, ids))
			}
			if _, ok := e.Find(session, figure); !ok {
				return diag.New(diag.Pos{}, "session %q has no figure %q", session, figure).WithHint("it is for: %s", strings.Join(d.Procedures, ", "))
			}
			w, err := openWarehouse(cmd.Context(), dir)
			if err != nil {
				return err
			}
			defer w.Close()
			ev, err := cat.Why(cmd.Context(), w, e, session, figure)
			if err != nil {
				return err
			}
			terminal.Why(a.out, ev, a.width())
			return nil
		},
	}
}

// openWarehouse opens a series' warehouse for reading, where a run has made one.
func openWarehouse(ctx context.Context, dir string) (*warehouse.Workspace, error) {
	if _, err := os.Stat(warehouseFile(dir)); err != nil {
		if err := isSeries(dir); err != nil {
			return nil, err
		}
		return nil, diag.New(diag.Pos{File: dir}, "the series has no warehouse").WithHint("`coldbench run %s` makes one", shellWord(dir))
	}
	return warehouse.OpenWorkspace(ctx, warehouseFile(dir), warehouse.Limits{})
}

func (a *app) queryCmd() *cobra.Command {
	var asCSV, asJSON bool
	cmd := &cobra.Command{
		Use:   "query DIR SQL",
		Short: "Run read-only SQL over the warehouse",
		Long: "query runs one SQL query over the warehouse. Its tables are vehicle, protocol, session, source, instrument,\n" +
			"reading, event, set_aside, edition, figure, gate and standing; beside them lie the views that figures read\n" +
			"(offer, power, inlet, heater, onset, plug_in, energy, charge_level, crossing, minute and more: metrics/sql/views).\n" +
			"It can change nothing and reach no other file.",
		Args: needs(2, "DIR SQL"),
		RunE: func(cmd *cobra.Command, args []string) error {
			dir, text := args[0], args[1]
			w, err := openWarehouse(cmd.Context(), dir)
			if err != nil {
				return err
			}
			defer w.Close()
			cat, _, err := metrics.Load("")
			if err != nil {
				return err
			}
			// Only the views that the query names are made: defined as views of
			// views, DuckDB would work the lower ones out hundreds of times.
			if err := cat.Materialise(cmd.Context(), w, cat.Named(text)...); err != nil {
				return err
			}
			rows, err := w.One(cmd.Context(), text)
			if err != nil {
				return w.Explain(cmd.Context(), err, "query", text, "")
			}
			defer rows.Close()
			names, err := rows.Columns()
			if err != nil {
				return err
			}
			table := [][]any{nil}
			for _, name := range names {
				table[0] = append(table[0], name)
			}
			for rows.Next() {
				row, err := warehouse.Values(rows)
				if err != nil {
					return w.Explain(cmd.Context(), err, "query", text, "")
				}
				table = append(table, row)
			}
			if err := rows.Err(); err != nil {
				return w.Explain(cmd.Context(), err, "query", text, "")
			}
			switch {
			case asCSV:
				return csv.NewWriter(a.data).WriteAll(texts(table))
			case asJSON:
				return json.NewEncoder(a.data).Encode(table)
			}
			terminal.Table(a.out, texts(table), a.width())
			return nil
		},
	}
	cmd.Flags().BoolVar(&asCSV, "csv", false, "print as CSV")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print as JSON: an array of rows, the first the column names; numbers as numbers, no value as null")
	return cmd
}

// texts are a query's values as people read them, "" for none.
func texts(table [][]any) [][]string {
	out := make([][]string, len(table))
	for i, row := range table {
		for _, v := range row {
			out[i] = append(out[i], cell(v))
		}
	}
	return out
}

func cell(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case []any, map[string]any:
		b, err := json.Marshal(v)
		if err != nil {
			return fmt.Sprint(v)
		}
		return string(b)
	}
	return fmt.Sprint(v)
}
