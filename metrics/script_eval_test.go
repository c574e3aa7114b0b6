package metrics

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/cockroachdb/datadriven"
)

// need makes the views of the given names and all that they read, once.
func (s *script) need(names ...string) {
	s.load()
	for _, v := range s.cat.Views {
		need := slices.Contains(names, v.Name)
		for _, name := range names {
			need = need || s.cat.views[name] != nil && s.cat.deepReads(s.cat.views[name])[v.Name] != nil
		}
		if !need || s.made[v.Name] {
			continue
		}
		s.made[v.Name] = true
		if err := s.cat.make(context.Background(), s.w, func(d *Definition) bool { return d == v }); err != nil {
			s.t.Fatal(err)
		}
	}
}

// eval prints a figure of every session: value, uncertainty, evidence, status.
func (s *script) eval(name string) string {
	d, err := s.cat.FindFigure(name)
	if err != nil {
		return "error: " + err.Error()
	}
	s.need(s.cat.viewNames([]*Definition{d})...)
	ctx := context.Background()
	schema, err := s.w.Schema(ctx)
	if err != nil {
		s.t.Fatal(err)
	}
	if l := s.cat.Check(ctx, s.w, schema, d); l != nil {
		return "error: " + l.Error()
	}
	all, err := sessions(ctx, s.w)
	if err != nil {
		s.t.Fatal(err)
	}
	figures, l := s.cat.figureRows(ctx, s.w, d, all)
	if l != nil {
		return "error: " + l.Error()
	}
	var b strings.Builder
	opt := func(v *float64) string {
		if v == nil {
			return "-"
		}
		return strconv.FormatFloat(*v, 'g', 6, 64)
	}
	for _, f := range figures {
		fmt.Fprintf(&b, "%s  %s", f.Session, opt(f.Value))
		if f.U != nil {
			fmt.Fprintf(&b, " ± %s", strconv.FormatFloat(*f.U, 'g', 4, 64))
		}
		fmt.Fprintf(&b, " %s [%s..%s s] %s", f.Unit, opt(f.From), opt(f.To), f.Status)
		if f.Note != "" {
			fmt.Fprintf(&b, ": %s", f.Note)
		}
		b.WriteString("\n")
	}
	return b.String()
}

// view prints columns of a view.
func (s *script) view(args []datadriven.CmdArg) string {
	s.need(args[0].Key)
	var cols []string
	for _, a := range args[1:] {
		cols = append(cols, a.Key)
	}
	rows, err := s.w.Query(context.Background(), "select "+strings.Join(cols, ", ")+" from "+args[0].Key)
	if err != nil {
		return "error: " + err.Error()
	}
	defer rows.Close()
	var b strings.Builder
	for rows.Next() {
		values, dest := make([]any, len(cols)), make([]any, len(cols))
		for i := range values {
			dest[i] = &values[i]
		}
		if err := rows.Scan(dest...); err != nil {
			s.t.Fatal(err)
		}
		for i, v := range values {
			if i > 0 {
				b.WriteString("  ")
			}
			if f, ok := v.(float64); ok {
				b.WriteString(strconv.FormatFloat(f, 'g', 6, 64))
			} else {
				fmt.Fprint(&b, v)
			}
		}
		b.WriteString("\n")
	}
	return b.String()
}
