package main

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"coldbench/metrics"
	"coldbench/reports/terminal"
	"coldbench/warehouse/channel"
	"coldbench/warehouse/diag"
)

func (a *app) figuresCmd() *cobra.Command {
	var dir string
	cmd := &cobra.Command{
		Use:   "figures [NAME]",
		Short: "List the figures, or print one's whole definition",
		Args:  cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if _, err := os.Stat(dir); dir != "" && err != nil {
				return diag.New(diag.Pos{File: dir}, "there is no such folder")
			}
			cat, l, err := metrics.Load(dir)
			if err != nil {
				return err
			}
			a.print(l)
			if len(args) == 1 {
				d, err := cat.FindFigure(args[0])
				if err != nil {
					return err
				}
				_, err = fmt.Fprintf(a.out, "%s  [%s, %s is better]\n%s\nfor %s; %s\n\n%s\n\n%s", d.Title, d.Unit, d.Better, d.Name,
					strings.Join(d.Procedures, ", "), d.Method, d.Prose, d.Query())
				return err
			}
			rows := [][]string{{"figure", "title", "unit", "better", "method"}}
			for _, d := range cat.Figures {
				rows = append(rows, []string{d.Name, d.Title, d.Unit, d.Better, d.Method})
			}
			terminal.Table(a.out, rows, a.width())
			if l != nil {
				return errProblems
			}
			return nil
		},
	}
	cmd.Flags().StringVar(&dir, "dir", "", "a folder of figures of your own to add")
	return cmd
}

func (a *app) channelsCmd() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "channels",
		Short: "List the channels that logs may carry, and the events",
		Args:  cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if asJSON {
				return json.NewEncoder(a.data).Encode(channel.All())
			}
			rows := [][]string{{"channel", "unit", "possible", "what it is"}}
			for _, c := range channel.All() {
				rows = append(rows, []string{c.Name, string(c.Unit), fmt.Sprintf("%g..%g", c.Min, c.Max), c.Doc})
			}
			terminal.Table(a.out, rows, a.width())
			rows = [][]string{{"event", "what it is"}}
			for _, k := range channel.EventKinds() {
				rows = append(rows, []string{k.Name, k.Doc})
			}
			fmt.Fprintln(a.out)
			terminal.Table(a.out, rows, a.width())
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print as JSON")
	return cmd
}
