package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"runtime/debug"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"coldbench/ingest"
	"coldbench/ingest/series"
	"coldbench/reports/terminal"
	"coldbench/warehouse/diag"
)

// version is the program's, set by the build.
var version = "dev"

// errProblems means that the input has problems, which have been printed.
var errProblems = errors.New("the input has problems")

// An app is the program's outside world.
type app struct {
	out, err  io.Writer // for people: whatever is in a log, text that is harmless
	data, bar io.Writer // the same two as they are: for programs, and for progress
	now       func() time.Time
}

// run is the whole program, with its outside world passed in. It returns 0 if
// all is well, 1 if the input has problems, 2 if the call was wrong or the
// machine failed.
func run(args []string, stdout, stderr io.Writer) int {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(200) // a tenth of the time of a run that adds a session to 500, for a fifth more memory
	}
	a := &app{out: terminal.Text{Writer: stdout}, err: terminal.Text{Writer: stderr}, data: stdout, bar: stderr, now: time.Now}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	root := a.root()
	if err := a.complete(root); err != nil {
		fmt.Fprintln(a.err, "coldbench:", err)
		return 2
	}
	root.SetArgs(args)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	var d *diag.Diagnostic
	var l diag.List
	switch {
	case err == nil:
		return 0
	case errors.Is(err, errProblems): // all was done that could be
		return 1
	case ctx.Err() != nil: // whatever was under way then tells of it in its own way
		fmt.Fprintln(stderr, "coldbench: interrupted")
		return 2
	case errors.As(err, &l), errors.As(err, &d):
		fmt.Fprintln(a.err, err)
		return 1
	}
	fmt.Fprintln(a.err, "coldbench:", err)
	return 2
}

func (a *app) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "coldbench",
		Short: "Compare how electric cars behave in the cold",
		Long: "coldbench turns the logs of cold nights into figures with their uncertainty and evidence,\n" +
			"says which cars may fairly be compared, ranks them, and writes the workbook.\n\n" +
			"Start with `coldbench demo`, then `coldbench new series my-winter`.",
		Version:       version,
		SilenceErrors: true,
		SilenceUsage:  true,
	}
	root.AddCommand(a.demoCmd(), a.newCmd(), a.inspectCmd(), a.runCmd(), a.checkCmd(), a.standingsCmd(), a.whyCmd(), a.changesCmd(),
		a.reportCmd(), a.exportCmd(), a.queryCmd(), a.figuresCmd(), a.channelsCmd())
	return root
}

// readSeries reads the series folder, printing what is wrong with it. The
// series is nil where nothing can be run; ok is false where there was anything
// to print.
func (a *app) readSeries(dir string) (s *series.Series, ok bool, err error) {
	if err := isSeries(dir); err != nil {
		return nil, false, err
	}
	s, problems, err := series.Load(dir, ingest.KindNames())
	if err != nil {
		return nil, false, err
	}
	a.print(problems)
	return s, problems == nil, nil
}

// isSeries says why dir is no series' folder, if it is none.
func isSeries(dir string) error {
	info, err := os.Stat(dir)
	if err != nil {
		return diag.New(diag.Pos{File: dir}, "folder not found").WithHint("`coldbench new series %s` lays one out", shellWord(dir))
	}
	if !info.IsDir() {
		return diag.New(diag.Pos{File: dir}, "not a folder").WithHint("give the folder that holds series.toml")
	}
	has := func(dir string) bool {
		_, err := os.Stat(filepath.Join(dir, "series.toml"))
		return !errors.Is(err, fs.ErrNotExist)
	}
	if has(dir) {
		return nil
	}
	shown := dir
	if full, err := filepath.Abs(dir); err == nil && filepath.Clean(dir) == "." {
		shown = full
	}
	d := diag.New(diag.Pos{File: shown}, "there is no series.toml in this folder")
	up := dir
	for range 3 { // a session's folder lies two below its series
		if up = filepath.Join(up, ".."); has(up) {
			return d.WithHint("the series' folder is %s: give that", shellWord(up))
		}
	}
	return d.WithHint("`coldbench new series %s` lays one out", shellWord(dir))
}

func (a *app) print(l diag.List) {
	for _, d := range l {
		fmt.Fprintln(a.err, d.Error())
	}
}

// warehouseFile is where a series' warehouse lies.
func warehouseFile(dir string) string { return filepath.Join(dir, "series.duckdb") }

// progress prints which session is being read, on a terminal only.
func (a *app) progress(done, all int, session string) {
	f, ok := a.bar.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return
	}
	fmt.Fprint(a.bar, "\r\033[K")
	fmt.Fprintf(a.err, "%d of %d  %s", done+1, all, session)
	if done+1 == all {
		fmt.Fprint(a.bar, "\r\033[K")
	}
}

// needs is how many arguments a command takes, with what to call them.
func needs(n int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) != n {
			return fmt.Errorf("%s needs %s, and got %d arguments", cmd.Name(), what, len(args))
		}
		return nil
	}
}

func seriesArg(args []string) string {
	if len(args) == 0 {
		return "."
	}
	return args[0]
}
