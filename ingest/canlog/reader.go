// Package canlog reads raw frames of a CAN bus, as candump writes them, by a DBC
// file that says what they mean and a profile that maps its signals to channels.
//
// Both of candump's forms are read: the log's, "(1436509052.249713) can0
// 044#2A366C2BBA", and the columns of the screen with any of its clocks, gzip or
// zstd or not; CAN FD, extended identifiers and multiplexed signals too. A
// profile's column is named MESSAGE.SIGNAL; its clock's format is "epoch" if it
// states none, "elapsed" for times from the start (-t z), "delta" for times from
// the frame before (-t d), "iso" for dates (-t A).
//
// A row is a frame of a message that is mapped, with the signals that it carries.
// Frames of other messages, frames whose multiplexor selects none of the mapped
// signals, remote requests and error frames are passed over: they are no rows.
// A line that cannot be read is one that is set aside, and so is a frame of a
// message that another interface had first: the same number need not mean the
// same there. Multiplexors within multiplexed signals are not read.
package canlog

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"coldbench/ingest/clock"
	"coldbench/ingest/source"
	"coldbench/warehouse/channel"
	"coldbench/warehouse/diag"
)

// Kind is the kind of log that this package reads.
func Kind() source.Kind {
	return source.Kind{Name: "canlog", Doc: "frames of a CAN bus as candump writes them, by a profile with a DBC file", Profile: true, Open: open}
}

type reader struct {
	in       source.Input
	text     *bufio.Reader
	clock    *clock.Resolver
	deltas   bool
	elapsed  int64 // µs, of deltas
	base     int64
	order    *source.Order
	columns  []column
	messages map[uint32][]int // columns by identifier
	seen     map[uint32]bool  // identifiers before the first row; nil then

	line  int64
	frame frame
	data  [maxData]byte
	vals  []float64
	ahead *row // the first row, which open looked for
}

// A row is a frame that is kept, or what is wrong with it.
type row struct {
	at    int64
	raw   []byte // not kept
	aside *source.Aside
}

func open(in source.Input) (source.Reader, diag.List, error) {
	var l diag.List
	p := in.Profile
	switch {
	case p == nil:
		l.Add(in.Session.At("source"), "source %q needs a profile", in.Source.File).WithHint("profile = \"...\", a file in profiles/")
	case p.DBC == "":
		l.Add(p.At("dbc"), "the profile names no DBC file").WithHint("dbc = \"profiles/car.dbc\", relative to the series folder")
	case len(p.Columns) == 0:
		l.Add(p.At("column"), "the profile maps no signal")
	}
	if l != nil {
		return nil, l, nil
	}
	r := &reader{in: in, order: source.NewOrder(p.ID, p.Order == "any"), messages: map[uint32][]int{}, seen: map[uint32]bool{}}
	if l = r.mapSignals(); l != nil {
		return nil, l, nil
	}
	if d := r.setClock(); d != nil {
		return nil, append(l, d), nil
	}
	text, file, err := source.OpenText(in.Path)
	if err != nil {
		return nil, nil, fmt.Errorf("canlog: %s: %w", in.Shown, err)
	}
	r.text = text
	if r.ahead, err = r.next(); err != nil && !errors.Is(err, io.EOF) {
		file.Close()
		return nil, nil, err
	}
	if r.ahead == nil {
		file.Close()
		if r.line == 0 {
			l.Add(diag.Pos{File: in.Shown}, "the file is empty").WithHint("was the logger running?")
		} else {
			l.Add(diag.Pos{File: in.Shown}, "the log has no frame of a message that profiles/%s.toml maps", p.ID).WithHint("%s", r.listSeen())
		}
		return nil, l, nil
	}
	r.seen = nil
	channels := make([]channel.Channel, len(r.columns))
	for i, c := range r.columns {
		channels[i] = c.channel
	}
	return source.Stream(channels, r, file, &source.Report{}), nil, nil
}

// Fill implements source.Filler.
func (r *reader) Fill(b *source.Batch, report *source.Report) (bool, error) {
	for !b.Full() {
		w := r.ahead
		if r.ahead = nil; w == nil {
			var err error
			if w, err = r.next(); errors.Is(err, io.EOF) {
				r.order.End(b, report)
				r.instruments(report)
				return false, nil
			} else if err != nil {
				return false, err
			}
		}
		report.RowsRead++
		if w.aside != nil {
			report.Aside = append(report.Aside, *w.aside)
			continue
		}
		if !r.order.Follows(w.at) {
			r.order.Doubt(b, report, source.Row{Line: r.line, At: w.at, Vals: r.vals, Col: 1, Raw: w.raw})
			continue
		}
		report.RowsKept++
		b.Row(r.line, w.at, r.vals)
	}
	return true, nil
}

// next reads up to the next row. Its values are in r.vals, its line is r.line.
// At the end it returns io.EOF and no row.
func (r *reader) next() (*row, error) {
	for {
		line, err := r.readLine()
		if err != nil {
			return nil, err
		}
		if len(bytes.TrimSpace(line)) == 0 {
			continue
		}
		col, reason := r.frame.read(line)
		var at int64
		var d *diag.Diagnostic
		if reason == "" {
			cols := r.messages[r.frame.id]
			if r.seen != nil && !r.frame.empty {
				r.seen[r.frame.id] = true
			}
			if r.deltas { // every frame moves the clock on
				at, d = r.time()
			}
			if len(cols) == 0 || r.frame.empty {
				continue
			}
			var carried bool
			if carried, col, reason = r.decode(cols); !carried {
				continue
			}
			if reason == "" && d == nil {
				d = r.strange(cols)
			}
			if reason == "" && d == nil && !r.deltas {
				at, d = r.time()
			}
		}
		var hint string
		if reason == "" && d != nil {
			col, reason, hint = 1, d.Msg, d.Hint
		}
		if reason != "" {
			a := source.SetAside(r.line, col, line, reason, hint)
			return &row{aside: &a}, nil
		}
		return &row{at: at, raw: line}, nil
	}
}

// decode reads the mapped signals of a frame into vals. carried is false where
// the frame's multiplexor selects none of them.
func (r *reader) decode(cols []int) (carried bool, col int, reason string) {
	n, col, reason := r.frame.bytes(&r.data)
	if reason != "" {
		return true, col, reason
	}
	for i := range r.vals {
		r.vals[i] = math.NaN()
	}
	for _, i := range cols {
		c := &r.columns[i]
		if c.muxed {
			if t := c.message.toggle; t.needs() > n {
				return true, r.frame.col, fmt.Sprintf("the frame has %d bytes, %s needs %d", n, t.name, t.needs())
			} else if t.raw(r.data[:]) != c.mux {
				continue
			}
		}
		carried = true
		if c.needs() > n {
			return true, r.frame.col, fmt.Sprintf("the frame has %d bytes, %s needs %d", n, c.name, c.needs())
		}
		v := c.value(r.data[:])
		if c.missing(v) {
			continue
		}
		v = c.scale.Of(v)
		if !c.channel.Possible(v) {
			ch := c.channel
			return true, r.frame.col, fmt.Sprintf("%s: %.6g %s is outside what %s can be, %g to %g %s", c.name, v, ch.Unit, ch.Name, ch.Min, ch.Max, ch.Unit)
		}
		r.vals[i] = v
	}
	return carried, 0, ""
}

// strange finds a frame that another interface than its message's has.
func (r *reader) strange(cols []int) *diag.Diagnostic {
	m := r.columns[cols[0]].message
	if m.iface == nil {
		m.iface = bytes.Clone(r.frame.iface)
	}
	if !bytes.Equal(m.iface, r.frame.iface) {
		return diag.New(diag.Pos{}, "the message %s is on %s and on %s", m.name, m.iface, r.frame.iface).WithHint("keep one interface's frames in the log")
	}
	return nil
}

// missing reports whether v, in the signal's unit, stands for no value. Half a
// step is near enough: 65535 * 0.1 is not 6553.5 to the last bit.
func (c *column) missing(v float64) bool {
	for _, m := range c.Column.Missing {
		if math.Abs(v-m) <= math.Abs(c.factor)/2 {
			return true
		}
	}
	return c.float && math.IsNaN(v)
}

// longest is the length in µs of a log that nobody has: ten years.
const longest = 10 * 366 * 86400 * 1000000

// time resolves the time of the frame.
func (r *reader) time() (int64, *diag.Diagnostic) {
	if len(r.frame.clock) == 0 {
		return 0, diag.New(diag.Pos{}, "the frame has no time").WithHint("candump -l writes it, or candump -t a")
	}
	at, err := r.clock.Resolve(r.frame.clock, nil)
	if err != nil {
		return 0, diag.At(err, diag.Pos{})
	}
	if r.deltas {
		if r.elapsed += at; r.elapsed < 0 || r.elapsed > longest {
			return 0, diag.New(diag.Pos{}, "the times from frame to frame add up to no log's length").WithHint("clock format \"delta\" is of candump -t d")
		}
		at = r.base + r.elapsed
	}
	return at, nil
}

// readLine returns the next line without its end, valid until the next call. Of
// a line that is longer than any frame the rest is dropped.
func (r *reader) readLine() ([]byte, error) {
	line, err := r.text.ReadSlice('\n')
	if errors.Is(err, bufio.ErrBufferFull) {
		line = slices.Clone(line[:source.MaxRaw])
		for errors.Is(err, bufio.ErrBufferFull) {
			_, err = r.text.ReadSlice('\n')
		}
	}
	if err != nil && (!errors.Is(err, io.EOF) || len(line) == 0) {
		if errors.Is(err, io.EOF) {
			return nil, io.EOF
		}
		return nil, fmt.Errorf("canlog: %s: line %d: %w", r.in.Shown, r.line+1, err)
	}
	r.line++
	return bytes.TrimRight(line, "\r\n"), nil
}
