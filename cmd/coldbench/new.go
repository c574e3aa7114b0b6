package main

import (
	"errors"
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
			if args[1] == "" {
				return errors.New("new needs a PATH that is not empty; nothing was written")
			}
			written, err := series.LayOut(args[0], args[1])
			for _, name := range written {
				fmt.Fprintln(a.out, name)
			}
			return err
		},
	}
}
