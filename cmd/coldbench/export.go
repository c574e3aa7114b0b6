package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"coldbench/reports"
	"coldbench/reports/bundle"
	"coldbench/warehouse"
	"coldbench/warehouse/diag"
)

func (a *app) exportCmd() *cobra.Command {
	var to string
	formats, tables := bundle.Formats()[:1], warehouse.Tables()
	cmd := &cobra.Command{
		Use:   "export [DIR]",
		Short: "Write the warehouse's tables as Parquet, Arrow, CSV or JSON",
		Long: "export writes the warehouse for other programs: every reading of every log in the channels' units, events,\n" +
			"rows set aside, figures, gates and standings of all editions, a file a table. Units stand in the columns' names;\n" +
			"`coldbench channels` lists them. What one edition holds lies in its folder data/.",
		Example: "  coldbench export my-winter --format csv,parquet\n" +
			"  coldbench export my-winter --table reading,event --format arrow --to logs",
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			for flag, asked := range map[string][2][]string{"--format": {formats, bundle.Formats()}, "--table": {tables, warehouse.Tables()}} {
				for _, name := range asked[0] {
					if !slices.Contains(asked[1], name) {
						return fmt.Errorf("%s knows no %q: %s", flag, name, diag.OneOf(name, asked[1]))
					}
				}
			}
			dir := seriesArg(args)
			if to == "" {
				name, err := filepath.Abs(dir)
				if err != nil {
					return err
				}
				to = "export-" + filepath.Base(name)
			}
			w, err := openWarehouse(cmd.Context(), dir)
			if err != nil {
				return err
			}
			defer w.Close()
			slices.Sort(formats)
			slices.Sort(tables)
			err = reports.Export(cmd.Context(), w, to, slices.Compact(tables), slices.Compact(formats))
			if errors.Is(err, reports.ErrThere) {
				return diag.New(diag.Pos{File: to}, "there is something of that name already").WithHint("give another folder with --to; nothing is overwritten")
			}
			if errors.Is(err, reports.ErrNoPlace) {
				return fmt.Errorf("%w; give another place with --to", err)
			}
			if err != nil {
				return err
			}
			fmt.Fprintf(a.err, "the warehouse of %s: %s\n", dir, to)
			return nil
		},
	}
	cmd.Flags().StringVar(&to, "to", "", "the new folder; export-DIR here if not given")
	cmd.Flags().StringSliceVar(&formats, "format", formats, "any of "+strings.Join(bundle.Formats(), ", "))
	cmd.Flags().StringSliceVar(&tables, "table", tables, "only some tables")
	return cmd
}
