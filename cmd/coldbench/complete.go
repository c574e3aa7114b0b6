package main

import (
	"errors"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"coldbench/metrics"
	"coldbench/reports"
	"coldbench/reports/bundle"
	"coldbench/warehouse"
)

// complete tells shells what an argument or flag may be: the series' own editions,
// sessions and figures, where there is a series to look at.
func (a *app) complete(root *cobra.Command) error {
	editions := func(dir string) []string {
		names, _ := reports.Editions(dir) // no series to look at: nothing to offer
		slices.Reverse(names)             // the newest first
		return names
	}
	sessions := func(dir string) []string {
		e, err := a.latest(dir)
		if err != nil {
			return nil
		}
		var out []string
		for _, s := range e.Sessions {
			out = append(out, s.ID+"\t"+e.Name(s.Vehicle)+", "+s.Procedure)
		}
		return out
	}
	figures := func(dir, session string) []string {
		e, err := a.latest(dir)
		if err != nil {
			return nil
		}
		var out []string
		for _, f := range e.Results {
			if f.Session == session {
				out = append(out, f.Figure+"\t"+e.Definition(f.Figure).Title)
			}
		}
		return out
	}
	catalogue := func() []string {
		cat, _, err := metrics.Load("")
		if err != nil {
			return nil
		}
		var out []string
		for _, d := range cat.Figures {
			out = append(out, d.Name+"\t"+d.Title)
		}
		return out
	}

	// What stands at each place of a command's arguments; nil is a folder or file.
	type offer func(args []string) []string
	fixed := func(names ...string) offer { return func([]string) []string { return names } }
	older := func(args []string) []string { return editions(args[0]) }
	for name, places := range map[string][]offer{
		"new":     {fixed("series\ta folder for a winter", "vehicle\ta car's facts", "session\ta night with one car")},
		"why":     {nil, func(args []string) []string { return sessions(args[0]) }, func(args []string) []string { return figures(args[0], args[1]) }},
		"changes": {nil, older, older},
		"figures": {func([]string) []string { return catalogue() }},
		"query":   {nil, fixed()},
	} {
		cmd, _, err := root.Find([]string{name})
		if err != nil {
			return err
		}
		cmd.ValidArgsFunction = func(_ *cobra.Command, args []string, start string) ([]string, cobra.ShellCompDirective) {
			if len(args) >= len(places) || places[len(args)] == nil {
				return nil, cobra.ShellCompDirectiveDefault
			}
			return starting(places[len(args)](args), start), cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
		}
	}

	byFlag := func(name, flag string, offered offer) error {
		cmd, _, err := root.Find([]string{name})
		if err != nil {
			return err
		}
		return cmd.RegisterFlagCompletionFunc(flag, func(_ *cobra.Command, args []string, start string) ([]string, cobra.ShellCompDirective) {
			return starting(offered([]string{seriesArg(args)}), start), cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
		})
	}
	return errors.Join(
		byFlag("run", "as-of", older),
		byFlag("report", "edition", older),
		byFlag("check", "session", func(args []string) []string { return sessions(args[0]) }),
		byFlag("report", "session", func(args []string) []string { return sessions(args[0]) }),
		byFlag("report", "only", fixed(reports.Parts()...)),
		byFlag("report", "size", fixed("1080p", "4k")),
		byFlag("export", "format", fixed(bundle.Formats()...)),
		byFlag("export", "table", fixed(warehouse.Tables()...)),
	)
}

// starting are the names that go on with what was typed, of a list after its last
// comma.
func starting(names []string, typed string) []string {
	head := typed[:strings.LastIndexByte(typed, ',')+1]
	var out []string
	for _, n := range names {
		if strings.HasPrefix(head+n, typed) {
			out = append(out, head+n)
		}
	}
	return out
}
