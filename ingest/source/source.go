// Package source is what every kind of log reader has in common: what it is
// given (Input), what it hands out (Reader, Report), and the one way of turning
// rows into Arrow batches (Stream).
//
// A reader knows no database. A row that cannot be used is set aside with its
// place and reason, and reading goes on; rows read are always rows kept plus
// rows set aside.
package source

import (
	"time"

	"github.com/apache/arrow/go/v17/arrow/array"

	"coldbench/ingest/series"
	"coldbench/warehouse/channel"
	"coldbench/warehouse/diag"
)

// An Input is one raw file with all that is known about it beforehand.
type Input struct {
	Path     string          // where the file is
	Shown    string          // what diagnostics call it
	Profile  *series.Profile // nil for kinds that need none
	Session  *series.Session
	Source   series.Source
	Location *time.Location // of clocks that name no zone
}

// A Kind is one kind of log.
type Kind struct {
	Name    string // as in a profile's or a source's "kind"
	Doc     string
	Profile bool // whether it needs a profile
	Events  bool // whether it may report events; such sources are read first
	// Open checks the file as a whole. A List says what is wrong with it (no
	// such column, nothing in it); an error, that it could not be read at all.
	Open func(Input) (Reader, diag.List, error)
}

// A Reader hands out the rows of one source as Arrow batches with the schema
// channel.Schema(its channels). Values are in the channels' units, times in UTC
// with the source's clock offset applied, and NULL means "not in this row".
//
// The caller must Release the reader; that closes the file. Err is the failure
// that ended the stream early, or nil.
type Reader interface {
	array.RecordReader
	// Report tells what was read. It is complete once Next has returned false.
	Report() *Report
}

// A Report is what a source held beside its readings.
type Report struct {
	RowsRead, RowsKept int64 // RowsRead - RowsKept == len(Aside)
	Aside              []Aside
	Events             []Event
	Instruments        []Instrument
	Unsorted           bool // a row was earlier than the row before; Stream sets it
}

// Aside is a row that was not used, kept as it stood. A row has one, for the
// first thing wrong in it.
type Aside struct {
	Line   int64  // 1-based, as in the batch
	Col    int    // 1-based byte, 0 if unknown
	Raw    string // the row as it stood, without its line end; cut at MaxRaw bytes
	Reason string // lower case, no full stop
	Hint   string // or ""
}

// MaxRaw bounds what is kept of one row that is set aside, in bytes.
const MaxRaw = 4096

// An Event is something that happened at a moment.
type Event struct {
	Line   int64
	At     time.Time // the middle of the interval in which it happened
	WidthS float64   // width of that interval: a note "20:12" is 60 s wide
	Kind   string    // of channel.EventKinds
	Text   string    // as the source says it
}

// An Instrument is what is known of the values of one channel in one source.
type Instrument struct {
	Channel    string
	Column     string  // what the source calls it
	Unit       string  // as the source has it
	Resolution float64 // smallest step, in the channel's unit; 0: not known
	URel       float64 // standard uncertainty, relative
	UAbs       float64 // and absolute, in the channel's unit
}

// Typical returns the instrument of a channel about which a source says
// nothing but its name and unit.
func Typical(c channel.Channel, column string) Instrument {
	return Instrument{Channel: c.Name, Column: column, Unit: string(c.Unit), URel: c.URel, UAbs: c.UAbs}
}
