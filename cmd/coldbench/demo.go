package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"coldbench/ingest/demo"
)

func (a *app) demoCmd() *cobra.Command {
	return &cobra.Command{
		Use:   "demo [DIR]",
		Short: "Write an invented series of cold nights and run it",
		Args:  cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			dir := "coldbench-demo"
			if len(args) == 1 {
				dir = args[0]
			}
			if err := demo.Write(dir); err != nil {
				return err
			}
			fmt.Fprintf(a.err, "wrote the invented series %s; truth.csv in it holds what really happened\n", dir)
			return a.runSeries(cmd.Context(), dir, a.now(), false)
		},
	}
}
