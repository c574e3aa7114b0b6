package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"coldbench/ingest"
	"coldbench/ingest/series"
	"coldbench/metrics"
	"coldbench/metrics/edition"
	"coldbench/reports"
	"coldbench/reports/terminal"
	"coldbench/warehouse"
	"coldbench/warehouse/diag"
)

func (a *app) runCmd() *cobra.Command {
	var at, of string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "run [DIR]",
		Short: "Read what changed, compute, gate, rank, and write an edition",
		Long: "run is the main job: it reads the logs that changed, computes every figure, judges the gates,\n" +
			"ranks the cars, writes a new edition with workbook, page, pictures and data, and says what moved.\n" +
			"Where nothing changed it writes nothing.",
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if of != "" {
				return a.asOf(cmd.Context(), seriesArg(args), of)
			}
			moment := a.now()
			if at != "" {
				t, err := time.Parse(time.RFC3339, at)
				if err != nil {
					return fmt.Errorf("--at needs a time such as 2026-02-01T09:30:00Z, not %q", at)
				}
				moment = t
			}
			return a.runSeries(cmd.Context(), seriesArg(args), moment, asJSON)
		},
	}
	cmd.Flags().StringVar(&at, "at", "", "date of the edition, instead of now (RFC 3339)")
	cmd.Flags().StringVar(&of, "as-of", "", "work out an old edition's standings again, from its own inputs, and write nothing")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the edition as JSON")
	return cmd
}

// runSeries does the main job. It returns errProblems if the input has
// problems, after doing all that could be done.
func (a *app) runSeries(ctx context.Context, dir string, moment time.Time, asJSON bool) error {
	s, fine, err := a.readSeries(dir)
	if err != nil {
		return err
	}
	if s == nil {
		return errProblems
	}
	names, err := reports.Editions(dir)
	if err != nil {
		return err
	}
	newest := later(func() (*edition.Edition, error) {
		if len(names) == 0 {
			return nil, nil
		}
		return reports.Read(dir, names[len(names)-1])
	})
	read, fresh, ok, err := a.ingest(ctx, s)
	if err != nil {
		return err
	}
	fine = fine && ok
	fmt.Fprintln(a.err, read)

	cat, l, err := metrics.Load(filepath.Join(dir, "figures"))
	if err != nil {
		return err
	}
	a.print(l)
	fine = fine && l == nil
	w, err := warehouse.OpenWorkspace(ctx, warehouseFile(dir), warehouse.Limits{})
	if err != nil {
		return err
	}
	defer w.Close()
	logs := sync.OnceValues(func() (logged, error) { return allLogs(ctx, dir, cat) })
	if fresh > 0 && metrics.OneBatch(fresh) {
		// The figures of so few leave a core idle, and there will be an edition to draw.
		go logs()
		defer logs()
	}
	e, l, err := compute(ctx, w, s, cat)
	if err != nil {
		return err
	}
	a.print(l)
	fine = fine && l == nil
	broken := slices.ContainsFunc(e.Scales, func(x edition.Scale) bool {
		return slices.ContainsFunc(l, func(d *diag.Diagnostic) bool { return d.Pos.File == cat.Figure(x.Figure).File })
	})
	if broken || len(e.Scales) < len(s.Protocol.Points) {
		fmt.Fprintln(a.err, "no edition is written: its points would not be those of series.toml")
		return errProblems
	}

	before, err := newest()
	var lost *diag.Diagnostic
	if errors.As(err, &lost) {
		a.print(diag.List{lost})
		before, fine = nil, false
	} else if err != nil {
		return err
	}
	if before != nil && edition.Same(before, e) {
		e = before
		fmt.Fprintf(a.err, "nothing changed since edition %s; no new one is written\n", before.ID)
		have, err := w.HasEdition(ctx, e.ID)
		if err != nil {
			return err
		}
		if !have { // somebody deleted the warehouse, or it could not be written at last
			all, err := logs()
			if err != nil {
				return err
			}
			if err := w.Close(); err != nil {
				return err
			}
			if err := keep(ctx, dir, e, all.made, func(publish func() error) error { return publish() }); err != nil {
				return err
			}
		}
	} else {
		e.At = moment.UTC().Truncate(time.Second)
		if before != nil && e.At.Before(before.At) {
			return diag.New(diag.Pos{File: dir}, "an edition of %s would be older than the newest, %s", e.At.Format(time.RFC3339), before.ID).
				WithHint("editions are dated in the order in which they are made")
		}
		e.ID = editionID(e.At, names)
		if before != nil {
			e.Before = before.ID
		}
		all, err := logs()
		if err != nil {
			return err
		}
		// The file must be free for the store that keeps the edition.
		if err := w.Close(); err != nil {
			return err
		}
		var folder string
		err = keep(ctx, dir, e, all.made, func(publish func() error) (err error) {
			folder, err = reports.Write(ctx, dir, e, all.logs, before, publish)
			return err
		})
		if err != nil {
			return err
		}
		fmt.Fprintf(a.err, "edition %s: %s\n", e.ID, filepath.Join(folder, reports.WorkbookFile))
		fmt.Fprintf(a.err, "as a page: %s\n", filepath.Join(folder, reports.PageFile))
	}
	if asJSON {
		if err := e.Write(a.data); err != nil {
			return err
		}
	} else {
		terminal.Standings(a.out, e, a.width())
		if before != nil && before.ID != e.ID {
			fmt.Fprintf(a.out, "\nWhat moved since edition %s\n", before.ID)
			terminal.Changes(a.out, edition.Compare(before, e), a.width())
		}
	}
	if !fine {
		return errProblems
	}
	return nil
}

// editionID is the edition's name: its minute, and a number where that minute
// has one already.
func editionID(at time.Time, taken []string) string {
	id := at.Format(reports.IDLayout)
	for n, try := 2, id; ; n++ {
		free := true
		for _, name := range taken {
			free = free && name != try
		}
		if free {
			return try
		}
		try = fmt.Sprintf("%s-%d", id, n)
	}
}

// ingest brings the warehouse up to date and prints what is wrong with the
// input; ok is false if anything is. Fresh are the rows that it read and kept.
func (a *app) ingest(ctx context.Context, s *series.Series) (summary string, fresh int64, ok bool, err error) {
	store, err := warehouse.Open(ctx, warehouseFile(s.Dir))
	if err != nil {
		return "", 0, false, err
	}
	defer store.Close()
	outcomes, err := ingest.Load(ctx, store, s, a.progress)
	if err != nil {
		return "", 0, false, err
	}
	ok = true
	read, unchanged, refused := 0, 0, 0
	for _, o := range outcomes {
		read += len(o.Read)
		fresh += o.Rows
		unchanged += o.Unchanged
		for _, c := range o.Aligned {
			fmt.Fprintf(a.err, "%s: clock aligned with %s: offset %.1f s, uncertain by %.1f s\n", c.Path, c.Reference, c.OffsetS, c.U)
		}
		for _, v := range o.Overlaps {
			fmt.Fprintf(a.err, "%s: read as %s is, which goes on beside it from %s to %s UTC; figures take one of the two\n", v.Path, v.Of, v.From.UTC().Format(time.DateTime), v.To.UTC().Format(time.TimeOnly))
		}
		if o.Problems != nil {
			refused++
			ok = false
			a.print(o.Problems)
		}
	}
	empty, err := store.Empty(ctx)
	if err != nil {
		return "", 0, false, err
	}
	for _, e := range empty { // nothing is lost, so all is well
		a.print(diag.List{diag.New(diag.Pos{File: e.Path}, "warning: no row is in it; the session is read from the others").WithHint("was the logger running?")})
	}
	aside, err := store.SetAside(ctx, setAsideShown)
	if err != nil {
		return "", 0, false, err
	}
	for _, src := range aside {
		ok = false
		for _, row := range src.First {
			a.print(diag.List{diag.New(diag.Pos{File: src.Path, Line: int(row.Line), Col: row.Col}, "row set aside: %s", row.Reason).WithHint("%s", row.Hint)})
		}
		if more := src.Rows - int64(len(src.First)); more > 0 {
			fmt.Fprintf(a.err, "%s: %d more rows set aside (`coldbench query %s \"from set_aside\"` lists them)\n", src.Path, more, shellWord(s.Dir))
		}
	}
	summary = fmt.Sprintf("%d sources read, %d unchanged", read, unchanged)
	if refused > 0 {
		summary += fmt.Sprintf("; %d sessions could not be read", refused)
	}
	return summary, fresh, ok, store.Close()
}

// setAsideShown is how many rows that were set aside are told of, a source.
const setAsideShown = 3

// compute makes the edition of a series whose warehouse is up to date. It has no
// ID and date yet.
func compute(ctx context.Context, w *warehouse.Workspace, s *series.Series, cat *metrics.Catalogue) (*edition.Edition, diag.List, error) {
	var scales []edition.Scale
	var wrong diag.List
	for i, p := range s.Protocol.Points {
		if err := cat.Rankable(p.Figure); err != nil {
			wrong = append(wrong, diag.At(err, s.Protocol.At("points", fmt.Sprint(i), "figure")))
			continue
		}
		if better := cat.Figure(p.Figure).Better; better == "lower" && p.Zero < p.Full || better == "higher" && p.Zero > p.Full {
			wrong.Add(s.Protocol.At("points", fmt.Sprint(i), "zero"), "points for %s would reward the worse: %s is better, and %g earns 0 and %g earns 100", p.Figure, better, p.Zero, p.Full).
				WithHint("swap zero and full")
			continue
		}
		scales = append(scales, edition.Scale{Figure: p.Figure, Category: p.Category, Zero: p.Zero, Full: p.Full, Weight: p.Weight})
	}
	settings := metrics.Settings{Scales: scales}
	var gates []string
	for _, g := range metrics.Gates() {
		gates = append(gates, g.Name)
	}
	for i, g := range s.Protocol.Gates {
		if !slices.Contains(gates, g.Name) {
			wrong.Add(s.Protocol.At("gate", fmt.Sprint(i), "name"), "unknown gate %q", g.Name).WithHint("%s", diag.OneOf(g.Name, gates))
			continue
		}
		if metrics.Gates()[slices.Index(gates, g.Name)].Figure == "" && g.Action == metrics.Fail {
			wrong.Add(s.Protocol.At("gate", fmt.Sprint(i), "action"), "the gate %q can only flag", g.Name).
				WithHint("sessions of one car are combined, not picked by what came out of them")
			continue
		}
		settings.Gates = append(settings.Gates, metrics.GateSetting(g))
	}
	e, l, err := cat.Run(ctx, w, settings)
	if err != nil {
		return nil, nil, err
	}
	e.Program = version
	for _, in := range s.Inputs() {
		e.Inputs = append(e.Inputs, edition.Input(in))
	}
	return e, append(wrong, l...), nil
}

// keep writes the edition's rows, and the logs that were made for it, into the
// warehouse, while write writes the edition. write calls publish before the edition can
// be seen, which waits until the rows are in and fails if they cannot be. The error of
// write is its own, and nothing is kept then.
func keep(ctx context.Context, dir string, e *edition.Edition, made []warehouse.Log, write func(publish func() error) error) error {
	store, err := warehouse.Open(ctx, warehouseFile(dir))
	if err != nil {
		return err
	}
	defer store.Close()
	in := make(chan error, 1)
	written := later(func() (struct{}, error) { return struct{}{}, write(func() error { return <-in }) })
	rows := metrics.Rows(e)
	rows.Logs = made
	err = store.PutEdition(ctx, rows, func() error {
		in <- nil
		_, err := written()
		return err
	})
	if err != nil {
		select {
		case in <- err:
		default: // it was told that they are in
		}
		if _, werr := written(); errors.Is(err, werr) {
			return werr
		}
		return err
	}
	return store.Close()
}

// logged are the logs of all sessions, and those that were made for it.
type logged struct {
	logs []edition.Log
	made []warehouse.Log
}

func allLogs(ctx context.Context, dir string, cat *metrics.Catalogue) (logged, error) {
	w, err := warehouse.OpenWorkspace(ctx, warehouseFile(dir), warehouse.Limits{})
	if err != nil {
		return logged{}, err
	}
	defer w.Close()
	logs, made, err := cat.Logs(ctx, w)
	return logged{logs, made}, err
}

// later does something beside what is done until its result is asked for.
func later[T any](do func() (T, error)) func() (T, error) {
	result := sync.OnceValues(do)
	go result()
	return result
}
