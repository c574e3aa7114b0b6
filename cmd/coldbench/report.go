package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"coldbench/reports"
	"coldbench/reports/picture"
	"coldbench/warehouse/diag"
)

func (a *app) reportCmd() *cobra.Command {
	var ask reports.Ask
	var id, to, size string
	cmd := &cobra.Command{
		Use:   "report [DIR]",
		Short: "Make reports of an edition again: other pictures, or only some of them",
		Long: "report makes the workbook, the page, the pictures and the data of an edition once more, from\n" +
			"what the edition holds, into a new folder; the edition itself never changes. Pictures can be\n" +
			"asked for larger, without a ground to lie over footage, or of one session.",
		Example: "  coldbench report my-winter --only pictures --size 4k --transparent --dark\n" +
			"  coldbench report my-winter --only pictures --session 2026-01-12-alder-60 --to alder",
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			for _, part := range ask.Only {
				if !slices.Contains(reports.Parts(), part) {
					return fmt.Errorf("--only knows no %q: %s", part, diag.OneOf(part, reports.Parts()))
				}
			}
			switch strings.ToLower(size) {
			case "1080p":
				ask.Pixels = picture.FullHD
			case "4k":
				ask.Pixels = picture.UHD
			default:
				return fmt.Errorf("--size needs 1080p or 4k, not %q", size)
			}
			return a.reportAgain(cmd.Context(), seriesArg(args), id, to, ask)
		},
	}
	cmd.Flags().StringVar(&id, "edition", "", "the edition; the newest if not given")
	cmd.Flags().StringVar(&to, "to", "", "the new folder; report-EDITION here if not given")
	cmd.Flags().StringSliceVar(&ask.Only, "only", nil, "what to make: "+strings.Join(reports.Parts(), ", "))
	cmd.Flags().StringSliceVar(&ask.Sessions, "session", nil, "sessions to draw pictures of, and to tell all of however many there are")
	cmd.Flags().StringVar(&size, "size", "1080p", "of the pictures: 1080p or 4k")
	cmd.Flags().BoolVar(&ask.Look.Transparent, "transparent", false, "pictures without a ground")
	cmd.Flags().BoolVar(&ask.Look.Dark, "dark", false, "pictures for a dark ground, or dark footage")
	cmd.Flags().BoolVar(&ask.Look.Untitled, "no-title", false, "pictures without title and foot")
	return cmd
}

func (a *app) reportAgain(ctx context.Context, dir, id, to string, ask reports.Ask) error {
	names, err := reports.Editions(dir)
	if err != nil {
		return err
	}
	if len(names) == 0 {
		if err := isSeries(dir); err != nil {
			return err
		}
		return diag.New(diag.Pos{File: dir}, "there is no edition yet").WithHint("`coldbench run %s` makes one", shellWord(dir))
	}
	if id == "" {
		id = names[len(names)-1]
	}
	if !slices.Contains(names, id) {
		return diag.New(diag.Pos{File: dir}, "there is no edition %q", id).WithHint("%s", diag.OneOf(id, names))
	}
	e, err := reports.Read(dir, id)
	if err != nil {
		return err
	}
	var known []string
	for _, s := range e.Sessions {
		known = append(known, s.ID)
	}
	for _, s := range ask.Sessions {
		if !slices.Contains(known, s) {
			return diag.New(diag.Pos{File: dir}, "edition %s has no session %q", id, s).WithHint("%s", diag.OneOf(s, known))
		}
	}
	if to == "" {
		to = "report-" + id
	}
	err = reports.Again(ctx, dir, id, to, ask)
	if errors.Is(err, reports.ErrThere) {
		return diag.New(diag.Pos{File: to}, "there is something of that name already").WithHint("give another folder with --to; nothing is overwritten")
	}
	if errors.Is(err, reports.ErrNoPlace) {
		return fmt.Errorf("%w; give another place with --to", err)
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(a.err, "edition %s: %s\n", id, to)
	return nil
}
