package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"coldbench/ingest/series"
)

func (a *app) newCmd() *cobra.Command {
	return &cobra.Command{
		Use:   "new series|vehicle|session PATH",
		Short: "Lay out files to fill in",
		Args:  needs(2, "series|vehicle|session PATH"),
		RunE: func(cmd *cobra.Command, args []string) error {
			written, err := series.LayOut(args[0], args[1])
			for _, name := range written {
				fmt.Fprintln(a.out, name)
			}
			return err
		},
	}
}
