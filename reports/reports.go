// Package reports writes an edition's folder: the workbook, the page, the
// pictures and the data. It writes beside the place where the edition will lie
// and moves it there when it is whole, so that an edition is there completely or
// not at all, and it never changes one that is there. What an edition's folder
// holds is enough to make its reports again.
package reports

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"coldbench/metrics/edition"
	"coldbench/reports/bundle"
	"coldbench/reports/page"
	"coldbench/reports/picture"
	"coldbench/reports/workbook"
	"coldbench/warehouse/diag"
)

// Names in an edition's folder.
const (
	WorkbookFile  = "ranking.xlsx"
	PageFile      = "report.html"
	PictureFolder = "pictures"
	DataFolder    = "data"
)

// IDLayout is how an edition is named: the minute of its making, by UTC. A number
// comes to it where that minute has one already.
const IDLayout = "2006-01-02T1504Z"

// Parts of an edition that can be made on their own.
const (
	Workbook = "workbook"
	Page     = "page"
	Pictures = "pictures"
	Data     = "data"
)

// Parts returns what an edition has.
func Parts() []string { return []string{Data, Workbook, Page, Pictures} }

// ErrExists means that an edition of that name is there already.
var ErrExists = errors.New("the edition is there already; editions are never changed")

// mostDrawn is the most sessions of which an edition has pictures of their own.
// With more, they are drawn when asked for.
const mostDrawn = 24

// An Ask is what is to be made again of an edition. Its zero value is all that
// the edition has.
type Ask struct {
	Only     []string // of Parts; none: all
	Sessions []string // to draw pictures of and to tell all of; none: as the edition does
	Look     picture.Look
	Pixels   int // height of the pictures, 0: picture.FullHD
}

// Write writes the edition into the folder editions/ID below dir and returns
// that folder. Its files are made read-only. The reports say what moved since
// before, the edition before it; nil if there is none. Once all is written, and before
// it is moved to its place, publish is called: if that fails, or ctx has ended by then,
// there is no edition.
func Write(ctx context.Context, dir string, e *edition.Edition, logs []edition.Log, before *edition.Edition, publish func() error) (string, error) {
	final := filepath.Join(dir, "editions", e.ID)
	if _, err := os.Lstat(final); err == nil {
		return "", fmt.Errorf("reports: edition %s: %w", e.ID, ErrExists)
	}
	err := whole(ctx, final, func(tmp string) error {
		made := begun(tmp, e, logs, before, Ask{})
		sealed := bundle.Seal(tmp, e, func(yield func(string, error) bool) {
			for _, p := range made {
				if err := p.wait(); !yield(p.name, err) {
					return
				}
			}
		})
		if err := cmp.Or(ended(made), sealed); err != nil {
			return err
		}
		err := filepath.WalkDir(tmp, func(name string, d fs.DirEntry, err error) error {
			if err == nil && !d.IsDir() {
				err = os.Chmod(name, 0o444)
			}
			return err
		})
		if err != nil {
			return err
		}
		return publish()
	})
	if err != nil {
		return "", fmt.Errorf("reports: edition %s: %w", e.ID, err)
	}
	return final, nil
}

// Again makes reports of an edition of the series folder dir once more, from
// what its folder holds, into the new folder to. Its error is ErrThere if there
// is anything at to.
func Again(ctx context.Context, dir, id, to string, ask Ask) error {
	e, err := Read(dir, id)
	if err != nil {
		return err
	}
	f, err := open(dir, id, bundle.LogsFile)
	if err != nil {
		return err
	}
	defer f.Close()
	logs, err := edition.ReadLogs(f)
	if err != nil {
		return fmt.Errorf("reports: edition %s: %w", id, err)
	}
	before, err := Before(dir, e)
	if err != nil {
		return err
	}
	if _, err := os.Lstat(to); err == nil {
		return ErrThere
	}
	if err := whole(ctx, to, func(tmp string) error { return ended(begun(tmp, e, logs, before, ask)) }); err != nil {
		return fmt.Errorf("reports: edition %s: %w", id, err)
	}
	return nil
}

// ErrThere means that there is something where a new folder was to be.
var ErrThere = errors.New("there is something of that name already")

// ErrNoPlace means that a new folder cannot be made where it was to be.
var ErrNoPlace = errors.New("nothing can be written in the folder")

// Before returns the edition that went before e in the series folder dir, nil
// if there was none or it is gone.
func Before(dir string, e *edition.Edition) (*edition.Edition, error) {
	names, err := Editions(dir)
	if err != nil || !slices.Contains(names, e.Before) {
		return nil, err
	}
	return Read(dir, e.Before)
}

// whole makes the folder final with fill, or nothing, as where ctx ends before that.
func whole(ctx context.Context, final string, fill func(tmp string) error) error {
	parent, err := filepath.Abs(filepath.Dir(final))
	if err != nil {
		return err
	}
	tmp := ""
	if err = os.MkdirAll(parent, 0o755); err == nil {
		tmp, err = os.MkdirTemp(parent, ".making-")
	}
	var why *fs.PathError
	if errors.As(err, &why) {
		return fmt.Errorf("%w %s: %w", ErrNoPlace, parent, why.Err)
	}
	if err != nil {
		return err
	}
	defer os.RemoveAll(tmp)
	if err := fill(tmp); err != nil {
		return err
	}
	if err := os.Chmod(tmp, 0o755); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	return os.Rename(tmp, final)
}

// A part of an edition that is being written: a file or a folder.
type part struct {
	name string
	wait func() error // until it is whole
}

// begun are the parts that are asked for, being written into the folder dir, all at
// once: none needs another. The workbook, which takes longest, is the last.
func begun(dir string, e *edition.Edition, logs []edition.Log, before *edition.Edition, ask Ask) []part {
	var out []part
	begin := func(asked, name string, write func(path string) error) {
		if len(ask.Only) > 0 && !slices.Contains(ask.Only, asked) {
			return
		}
		p := part{name, sync.OnceValue(func() error { return write(filepath.Join(dir, name)) })}
		go p.wait()
		out = append(out, p)
	}
	begin(Data, DataFolder, func(path string) error {
		return inside(path, func() error { return bundle.Write(path, e, logs) })
	})
	begin(Page, PageFile, func(path string) error {
		return create(path, func(w io.Writer) error { return page.Write(w, e, logs, before, ask.Sessions) })
	})
	begin(Pictures, PictureFolder, func(path string) error {
		return inside(path, func() error { return pictures(path, e, logs, ask) })
	})
	begin(Workbook, WorkbookFile, func(path string) error {
		return create(path, func(w io.Writer) error { return workbook.Write(w, e, logs, before, ask.Sessions) })
	})
	return out
}

// ended waits for all parts and returns the first error in their order.
func ended(parts []part) error {
	var errs []error
	for _, p := range parts {
		errs = append(errs, p.wait())
	}
	return cmp.Or(errs...)
}

// pictures draws the pictures that are asked for, each as PNG and as SVG.
func pictures(dir string, e *edition.Edition, logs []edition.Log, ask Ask) error {
	sessions := ask.Sessions
	if sessions == nil && len(e.Sessions) <= mostDrawn {
		for _, s := range e.Sessions {
			sessions = append(sessions, s.ID)
		}
	}
	pixels := ask.Pixels
	if pixels == 0 {
		pixels = picture.FullHD
	}
	var drawing errgroup.Group
	drawing.SetLimit(runtime.GOMAXPROCS(0))
	for _, p := range picture.All(e, logs, sessions) {
		drawing.Go(func() error {
			return create(filepath.Join(dir, p.Name+".svg"), func(w io.Writer) error { return p.SVG(w, ask.Look) })
		})
		drawing.Go(func() error {
			return create(filepath.Join(dir, p.Name+".png"), func(w io.Writer) error { return p.PNG(w, ask.Look, pixels) })
		})
	}
	return drawing.Wait()
}

func inside(folder string, write func() error) error {
	if err := os.Mkdir(folder, 0o755); err != nil {
		return err
	}
	return write()
}

func create(name string, write func(io.Writer) error) error {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	if err := write(f); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

// Editions returns the names of the editions in the series folder dir, oldest
// first, also of those whose data is broken or gone; a file is none.
func Editions(dir string) ([]string, error) {
	entries, err := os.ReadDir(filepath.Join(dir, "editions"))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("reports: %w", err)
	}
	var names []string
	for _, entry := range entries {
		name := entry.Name()
		_, err := os.Stat(filepath.Join(dir, "editions", name, DataFolder, bundle.EditionFile))
		if _, _, ok := ofMinute(name); ok && !entry.Type().IsRegular() || err == nil && name[0] != '.' {
			names = append(names, name)
		}
	}
	slices.SortStableFunc(names, compareIDs)
	return names, nil
}

// compareIDs orders the names of editions by date, then by the number that tells
// those of one minute apart: ...-9 is before ...-10.
func compareIDs(a, b string) int {
	minuteA, nA, _ := ofMinute(a)
	minuteB, nB, _ := ofMinute(b)
	return cmp.Or(strings.Compare(minuteA, minuteB), cmp.Compare(nA, nB))
}

// ofMinute takes the name of an edition apart: its minute, and its number in that,
// 0 for the first. The minute of what is not named as an edition is its name.
func ofMinute(id string) (minute string, n int, ok bool) {
	minute, number, more := strings.Cut(id, "Z-")
	if more {
		var err error
		if n, err = strconv.Atoi(number); err != nil {
			return id, 0, false
		}
		minute += "Z"
	}
	if _, err := time.Parse(IDLayout, minute); err != nil {
		return id, 0, false
	}
	return minute, n, true
}

// Read reads an edition of the series folder dir back. Its error is a
// *diag.Diagnostic where the edition's data is broken.
func Read(dir, name string) (*edition.Edition, error) {
	f, err := open(dir, name, bundle.EditionFile)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	e, err := edition.Read(f)
	if err != nil {
		return nil, broken(f.Name(), name, err.Error())
	}
	return e, nil
}

// open opens a file of an edition's data. Its error is a *diag.Diagnostic where it is
// none.
func open(dir, name, file string) (*os.File, error) {
	folder := filepath.Join(dir, "editions", name, DataFolder)
	path := filepath.Join(folder, file)
	if diag.IsPipe(os.DirFS(folder), file) {
		return nil, broken(path, name, "it is "+diag.Pipe)
	}
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, broken(path, name, "the file is gone")
	}
	if err != nil {
		return nil, fmt.Errorf("reports: edition %s: %w", name, err)
	}
	return f, nil
}

func broken(path, name, why string) *diag.Diagnostic {
	return diag.New(diag.Pos{File: path}, "the edition is broken: %s", why).WithHint("move the folder editions/%s away; a run does not need it", name)
}
