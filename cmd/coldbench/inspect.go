package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/spf13/cobra"

	"coldbench/ingest"
	"coldbench/ingest/clock"
	"coldbench/ingest/profile/infer"
	"coldbench/reports/terminal"
	"coldbench/warehouse/diag"
)

func (a *app) inspectCmd() *cobra.Command {
	var write string
	var asJSON bool
	var rows int
	cmd := &cobra.Command{
		Use:   "inspect FILE",
		Short: "Read an unknown log and propose a profile for it",
		Long: "inspect says what a log seems to be: its layout, its clock, which column is which channel and in which unit,\n" +
			"each with a confidence and the reason, and shows its first rows as they would be read.\n\n" +
			"What the file leaves open (two columns for one channel, a date that may be day-first or month-first, a sign that\n" +
			"nothing shows) is asked, and commented out in the profile that --write keeps.",
		Args: needs(1, "FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			file := args[0]
			if info, err := os.Stat(file); err != nil {
				return diag.New(diag.Pos{File: file}, "file not found")
			} else if info.IsDir() {
				return diag.New(diag.Pos{File: file}, "this is a folder").WithHint("`coldbench check` looks at a series; inspect takes one log")
			} else if diag.IsPipe(os.DirFS(filepath.Dir(file)), filepath.Base(file)) {
				return diag.New(diag.Pos{File: file}, "it is "+diag.Pipe).WithHint("a log is read more than once: keep it as a file")
			}
			p, l, err := infer.File(file, file)
			if err != nil {
				return ingest.Unread(err, file)
			}
			if l != nil {
				return l
			}
			if asJSON {
				enc := json.NewEncoder(a.data)
				enc.SetIndent("", "  ")
				if err := enc.Encode(p); err != nil {
					return err
				}
			} else if err := a.proposal(p, file, rows); err != nil {
				return err
			}
			if write == "" {
				return nil
			}
			return a.writeProfile(p, write)
		},
	}
	cmd.Flags().StringVar(&write, "write", "", "keep the proposal as this profile, such as winter/profiles/my-logger.toml")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the proposal as JSON")
	cmd.Flags().IntVar(&rows, "rows", 5, "how many rows to show")
	return cmd
}

// proposal prints what was found of a log, and its first rows.
func (a *app) proposal(p *infer.Proposal, file string, rows int) error {
	table := [][]string{{"what", "found", "confidence", "because"}}
	for _, f := range p.Facts {
		table = append(table, []string{f.What, f.Value, f.Confidence.String(), f.Reason})
	}
	if p.Clock.What != "" {
		table = append(table, []string{p.Clock.What, p.Clock.Value, p.Clock.Confidence.String(), p.Clock.Reason})
	}
	for _, r := range p.Readings {
		table = append(table, []string{"", fmt.Sprintf("%q", r.Clock.Format), infer.Low.String(), "the first time would be " + r.Example})
	}
	terminal.Table(a.out, table, a.width())
	if p.Advice != "" {
		fmt.Fprintf(a.out, "\n%s\n", p.Advice)
	}
	if len(p.Columns) > 0 {
		fmt.Fprintln(a.out)
		terminal.Table(a.out, columnRows(p), a.width())
	}
	if len(p.Questions) > 0 {
		fmt.Fprintln(a.out, "\nQuestions that the log leaves open")
		for i, q := range p.Questions {
			terminal.Fold(a.out, fmt.Sprintf("%d. %s", i+1, q), a.width())
		}
	}
	if len(p.Columns) == 0 {
		return nil
	}
	v, l, err := p.Preview(file, rows)
	if err != nil {
		return ingest.Unread(err, file)
	}
	fmt.Fprintln(a.out, "\nFirst rows as they would be read")
	if l != nil {
		for _, d := range l {
			terminal.Fold(a.out, d.Error(), a.width())
		}
		return nil
	}
	terminal.Table(a.out, append([][]string{v.Head}, v.Rows...), a.width())
	fmt.Fprintln(a.out)
	terminal.Fold(a.out, fmt.Sprintf("Of the first %d rows %d are kept and %d set aside.", v.Read, v.Kept, len(v.Aside)), a.width())
	for _, s := range v.Aside[:min(len(v.Aside), 3)] {
		terminal.Fold(a.out, (&diag.Diagnostic{Pos: diag.Pos{File: file, Line: int(s.Line), Col: s.Col}, Msg: s.Reason}).Error(), a.width())
	}
	if p.NeedsDate {
		terminal.Fold(a.out, "The clock shows no date: at the session's [[source]] state "+clock.Start(p.Profile.Clock, toml.LocalDate{})+".", a.width())
	}
	return nil
}

func columnRows(p *infer.Proposal) [][]string {
	table := [][]string{{"column", "values", "channel", "unit", "confidence", "because"}}
	for _, c := range p.Columns {
		channel := c.Channel
		switch {
		case c.Clock:
			channel = "(clock)"
		case channel == "":
			channel = "none"
		case !c.Taken():
			channel += "?"
		}
		if c.Invert {
			channel += ", inverted"
		}
		because := c.Reason
		if c.Sign != "" {
			because += "; sign: " + c.Sign
		}
		table = append(table, []string{c.Name, c.Values, channel, c.Unit, c.Confidence.String(), because})
	}
	return table
}

// writeProfile keeps a proposal as a file that is not there yet.
func (a *app) writeProfile(p *infer.Proposal, name string) error {
	if filepath.Ext(name) != ".toml" {
		name += ".toml"
	}
	pos := diag.Pos{File: name}
	if !p.Needs {
		return diag.New(pos, "a log of kind %q needs no profile", p.Kind).WithHint("list it in session.toml with kind = %q", p.Kind)
	}
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	switch {
	case errors.Is(err, fs.ErrExist):
		return diag.New(pos, "is there already").WithHint("choose another name; nothing was changed")
	case errors.Is(err, fs.ErrNotExist):
		return diag.New(pos, "there is no folder %s", filepath.Dir(name)).WithHint("profiles lie in a series' folder profiles/")
	case err != nil:
		return err
	}
	title := strings.ReplaceAll(strings.TrimSuffix(filepath.Base(name), ".toml"), "-", " ")
	if _, err := f.Write(p.TOML(title)); err != nil {
		f.Close()
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	fmt.Fprintf(a.err, "wrote %s\n", name)
	return nil
}
