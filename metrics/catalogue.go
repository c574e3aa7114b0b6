package metrics

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path"
	"slices"
	"strings"
	"time"

	"coldbench/warehouse/diag"
)

//go:embed sql/*.sql sql/views/*.sql
var builtin embed.FS

// A Catalogue is a set of definitions that fit together.
type Catalogue struct {
	Figures []*Definition // by name
	Views   []*Definition // each after those it reads

	// TimeLimit bounds each of the user's own figures.
	TimeLimit time.Duration

	views map[string]*Definition
	// Of all definitions, once they are loaded.
	reads  map[*Definition]map[string]map[string]bool
	hashes map[*Definition]string
}

// Load returns the built-in catalogue with the figures of the folder dir, if it
// exists, added; "" adds none. A definition of the user's that is wrong is left
// out and told of in the List.
func Load(dir string) (*Catalogue, diag.List, error) {
	c := &Catalogue{TimeLimit: time.Minute, views: map[string]*Definition{}, reads: map[*Definition]map[string]map[string]bool{}, hashes: map[*Definition]string{}}
	l := c.add(builtin, "sql/views", "metrics/sql/views", true)
	if l == nil {
		l = c.add(builtin, "sql", "metrics/sql", false)
	}
	if l != nil {
		return nil, l, nil
	}
	if err := c.order(); err != nil {
		return nil, nil, err
	}
	if _, err := os.Lstat(dir); dir != "" && !errors.Is(err, fs.ErrNotExist) {
		own := len(c.Figures)
		l = c.add(os.DirFS(dir), ".", path.Base(dir), false)
		for _, d := range c.Figures[own:] {
			d.Mine = true
		}
	}
	slices.SortFunc(c.Figures, func(a, b *Definition) int { return strings.Compare(a.Name, b.Name) })
	for _, d := range slices.Concat(c.Views, c.Figures) {
		c.reads[d] = c.deepReads(d)
		c.hashes[d] = c.deepHash(d)
	}
	return c, l, nil
}

// add parses every .sql file in a folder. shown is what the folder is called.
func (c *Catalogue) add(fsys fs.FS, dir, shown string, views bool) diag.List {
	var problems diag.List
	entries, err := fs.ReadDir(fsys, dir)
	if err != nil {
		problems.Add(diag.Pos{File: shown}, "the folder cannot be read: %v", reason(err))
	}
	for _, entry := range entries {
		stem, ok := strings.CutSuffix(entry.Name(), ".sql")
		if !ok {
			continue
		}
		file := path.Join(shown, entry.Name())
		if diag.IsPipe(fsys, path.Join(dir, entry.Name())) {
			problems.Add(diag.Pos{File: file}, "it is "+diag.Pipe)
			continue
		}
		text, err := fs.ReadFile(fsys, path.Join(dir, entry.Name()))
		if err != nil {
			problems.Add(diag.Pos{File: file}, "the file cannot be read: %v", reason(err))
			continue
		}
		d, l := parse(file, stem, string(text))
		if l == nil && d.View != views {
			l.Add(diag.Pos{File: file, Line: 1, Col: 4}, "a view must lie in views/, a figure beside it")
		}
		if l == nil && !d.View && c.readsResults(d) && (c.deepReads(d)["reading"] != nil || c.deepReads(d)["event"] != nil) {
			l.Add(diag.Pos{File: file, Line: d.line["reads"], Col: 4}, "a figure that reads result may not read readings or events too").
				WithHint("split it in two: one that reads them, one that compares")
		}
		if l == nil && c.Figure(d.Name) != nil {
			l.Add(diag.Pos{File: file, Line: 1, Col: 4}, "figure %q is taken", d.Name).WithHint("choose another name")
		}
		if l != nil {
			problems = append(problems, l...)
			continue
		}
		if d.View {
			c.views[d.Name] = d
		} else {
			c.Figures = append(c.Figures, d)
		}
	}
	return problems
}

// reason is why a file could not be read, without its name.
func reason(err error) error {
	var e *fs.PathError
	if errors.As(err, &e) {
		return e.Err
	}
	return err
}

// order puts every view after the views it reads.
func (c *Catalogue) order() error {
	state := map[string]int{} // 1: being placed, 2: placed
	var place func(d *Definition) error
	place = func(d *Definition) error {
		switch state[d.Name] {
		case 1:
			return fmt.Errorf("metrics: view %s reads itself", d.Name)
		case 2:
			return nil
		}
		state[d.Name] = 1
		for _, r := range d.Reads {
			if v := c.views[r.Table]; v != nil {
				if err := place(v); err != nil {
					return err
				}
			}
		}
		state[d.Name] = 2
		c.Views = append(c.Views, d)
		return nil
	}
	for _, name := range slices.Sorted(maps.Keys(c.views)) {
		if err := place(c.views[name]); err != nil {
			return err
		}
	}
	return nil
}

// Figure returns the figure of that name, or nil.
func (c *Catalogue) Figure(name string) *Definition {
	i := slices.IndexFunc(c.Figures, func(d *Definition) bool { return d.Name == name })
	if i < 0 {
		return nil
	}
	return c.Figures[i]
}

// FindFigure is Figure with a *diag.Diagnostic, without a position, for a name
// that is not there.
func (c *Catalogue) FindFigure(name string) (*Definition, error) {
	if d := c.Figure(name); d != nil {
		return d, nil
	}
	names := make([]string, len(c.Figures))
	for i, d := range c.Figures {
		names[i] = d.Name
	}
	h := diag.DidYouMean(name, names)
	if h == "" {
		h = "`coldbench figures` lists them"
	}
	return nil, diag.New(diag.Pos{}, "unknown figure %q", name).WithHint("%s", h)
}

// deepReads returns every table, with columns, that d reads itself or through
// views. Its keys are tables, its values sets of columns.
func (c *Catalogue) deepReads(d *Definition) map[string]map[string]bool {
	if all, ok := c.reads[d]; ok {
		return all
	}
	all := map[string]map[string]bool{}
	var walk func(d *Definition)
	walk = func(d *Definition) {
		for _, r := range d.Reads {
			if all[r.Table] == nil {
				all[r.Table] = map[string]bool{}
				if v := c.views[r.Table]; v != nil {
					walk(v)
				}
			}
			for _, col := range r.Columns {
				all[r.Table][col] = true
			}
		}
	}
	walk(d)
	return all
}

// Channels returns the columns of the table reading that a figure depends on,
// itself or through views, sorted.
func (c *Catalogue) Channels(d *Definition) []string {
	return slices.Sorted(maps.Keys(c.deepReads(d)["reading"]))
}

// readsWindow reports whether d depends on the common SoC window, which is
// chosen only after the figures that do not.
func (c *Catalogue) readsWindow(d *Definition) bool {
	p := c.deepReads(d)["protocol"]
	return p["window_from_pct"] || p["window_to_pct"]
}

// readsResults reports whether d compares sessions by their results, which are
// known only after all other figures.
func (c *Catalogue) readsResults(d *Definition) bool { return c.deepReads(d)["result"] != nil }

// Version is a hash over a definition and all views that it reads, in hex.
func (c *Catalogue) Version(d *Definition) string { return c.deepHash(d) }

// deepHash is a hash over d and all views that it reads.
func (c *Catalogue) deepHash(d *Definition) string {
	if h, ok := c.hashes[d]; ok {
		return h
	}
	parts := []string{d.Hash()}
	for _, table := range slices.Sorted(maps.Keys(c.deepReads(d))) {
		if v := c.views[table]; v != nil {
			parts = append(parts, table, v.Hash())
		}
	}
	return hashOf(parts...)
}
