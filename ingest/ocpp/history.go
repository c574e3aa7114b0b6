package ocpp

import (
	"cmp"
	"slices"
	"time"

	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/series"
	"coldbench/ingest/source"
)

// A moment is what one message says happened.
type moment struct {
	at   int64
	line int64
	what what
	text string
}

type what int

const (
	authorised what = iota
	cablePlugged
	carDetected
	connectedState   // of a transaction, 2.0.1
	occupied         // by a card, a cable or a bay: Preparing, Occupied
	charging         // the contactor is closed
	suspended        // the car or the charger takes a rest
	ended            // of the transaction, or Finishing
	cablePulled      // for certain
	available        // free again
	lockFailure      // the connector could not be latched
	remark           // worth a note
	faulted          // which ends a charge
	transactionBegun // 1.6: a cable is plugged in, and a card accepted
)

// statuses are those of StatusNotification, 1.6 and 2.0.1, and the charging
// states of TransactionEvent.
var statuses = map[string]struct {
	what what
	text string
}{
	"Preparing":     {occupied, "Preparing: a card, a cable or a bay"},
	"Occupied":      {occupied, "Occupied"},
	"Charging":      {charging, "Charging"},
	"SuspendedEV":   {suspended, "SuspendedEV: the charger offers energy, the car takes none"},
	"SuspendedEVSE": {suspended, "SuspendedEVSE: the charger offers none"},
	"Idle":          {suspended, "Idle"},
	"EVConnected":   {connectedState, "EVConnected"},
	"Finishing":     {ended, "Finishing"},
	"Available":     {available, "Available"},
	"Unavailable":   {remark, "Unavailable"},
	"Faulted":       {faulted, "Faulted"},
}

// reported gathers the moments that a message tells of.
func (r *reader) reported(p *parsed, at int64) {
	add := func(w what, text string) { r.moments = append(r.moments, moment{at, p.line, w, text}) }
	b := &p.payload
	if p.kind == callResult {
		if r.asked[p.id] && token(b) == "Accepted" && !null(p.receipt) && len(r.whose.connectors) <= 1 {
			add(authorised, "Authorize: Accepted")
		}
		return
	}
	if c := r.whose.of(p); p.kind != call || c == 0 || c < 0 && len(r.whose.connectors) > 1 {
		if p.action == "Authorize" {
			r.asked[p.id] = true
		}
		return
	}
	switch p.action {
	case "Authorize":
		r.asked[p.id] = true
	case "StatusNotification":
		text := ""
		if b.ErrorCode != "" && b.ErrorCode != "NoError" {
			text = ": " + b.ErrorCode
			if b.Info != "" {
				text += ", " + b.Info
			}
		}
		status := cmp.Or(b.Status, b.ConnectorStatus)
		if b.ErrorCode == "ConnectorLockFailure" {
			add(lockFailure, status+text)
		}
		if s, ok := statuses[status]; ok {
			add(s.what, s.text+text)
		}
	case "StartTransaction":
		add(transactionBegun, "StartTransaction")
	case "StopTransaction":
		r.stopped(add, b.Reason, "StopTransaction")
	case "TransactionEvent":
		switch b.TriggerReason {
		case "Authorized", "RemoteStart":
			add(authorised, b.TriggerReason)
		case "CablePluggedIn":
			add(cablePlugged, b.TriggerReason)
		case "EVDetected":
			add(carDetected, b.TriggerReason)
		case "EVDeparted":
			add(cablePulled, b.TriggerReason)
		case "EVCommunicationLost", "AbnormalCondition", "EVConnectTimeout":
			add(remark, b.TriggerReason)
		}
		if s, ok := statuses[b.TransactionInfo.ChargingState]; ok && b.EventType != "Ended" {
			add(s.what, s.text)
		}
		if b.EventType == "Ended" {
			r.stopped(add, b.TransactionInfo.StoppedReason, "the transaction ended")
		}
	}
}

func (r *reader) stopped(add func(what, string), reason, text string) {
	if reason != "" {
		text += ": " + reason
	}
	add(ended, text)
	if reason == "EVDisconnected" {
		add(cablePulled, text)
	}
}

// A history follows one connector through its moments, so that each thing is an
// event once: chargers repeat their state in every message.
type history struct {
	cable  bool // whether an occupied connector counts as a plug-in
	events []source.Event

	period // since the cable was pulled last
}

type period struct {
	authorised bool
	charging   bool
	seen       bool  // a status that needs a cable was seen,
	seenAt     int64 // and when first
	plugs      []plug
	state      string // text of the status before
}

// A plug is an event that may be the plug-in; the best one of a period is.
type plug struct {
	event int
	rank  int
}

// cableByStatus reports whether an occupied connector may stand for the plug-in,
// which people and session.toml know better.
func cableByStatus(in source.Input) bool {
	notes := slices.ContainsFunc(in.Session.Sources, func(s series.Source) bool { return s.Kind == "notes" })
	return !notes && in.Session.PlugIn == (toml.LocalDateTime{})
}

func (h *history) emit(m moment, kind string) {
	const widthS = 1 // chargers write whole seconds, whatever decimals they show
	h.events = append(h.events, source.Event{Line: m.line, At: time.UnixMicro(m.at).UTC(), WidthS: widthS, Kind: kind, Text: m.text})
}

func (h *history) take(m moment) {
	switch m.what {
	case authorised:
		if !h.authorised {
			h.emit(m, "authorised")
		}
		h.authorised = true
	case transactionBegun:
		h.needsCable(m.at)
		if !h.authorised {
			h.emit(m, "authorised")
		}
		h.authorised = true
	case cablePlugged, carDetected, occupied:
		h.mayBePlug(m, int(m.what))
	case connectedState:
		switch {
		case h.charging:
			h.stop(m)
		case h.state != m.text:
			h.mayBePlug(m, int(m.what))
		}
		h.state = m.text
	case charging:
		if !h.charging {
			h.emit(m, "charge-start")
		}
		h.needsCable(m.at)
		h.charging, h.state = true, m.text
	case suspended:
		switch {
		case h.charging:
			h.stop(m)
		case h.state != m.text && m.text != statuses["Idle"].text:
			h.emit(m, "note")
		}
		if m.text != statuses["Idle"].text {
			h.needsCable(m.at)
		}
		h.state = m.text
	case ended:
		if h.charging {
			h.stop(m)
		}
		h.state = m.text
	case cablePulled, available:
		if h.charging {
			h.stop(m)
		}
		if h.seen || m.what == cablePulled && len(h.plugs) > 0 || h.certainPlug() {
			h.emit(m, "unplug")
		}
		h.endPeriod()
	case lockFailure:
		h.emit(m, "latch-failure")
	case remark, faulted:
		if h.charging && m.what == faulted {
			h.stop(m)
		} else if h.state != m.text {
			h.emit(m, "note")
		}
		h.state = m.text
	}
}

func (h *history) stop(m moment) {
	h.emit(m, "charge-stop")
	h.charging = false
}

func (h *history) needsCable(at int64) {
	if !h.seen {
		h.seen, h.seenAt = true, at
	}
}

// mayBePlug notes a sign of the plug-in, once a period and kind of sign. A state
// that a connector has come back to is none.
func (h *history) mayBePlug(m moment, rank int) {
	if h.charging || h.seen && rank >= int(connectedState) || slices.ContainsFunc(h.plugs, func(p plug) bool { return p.rank == rank }) {
		return
	}
	h.emit(m, "note")
	h.plugs = append(h.plugs, plug{len(h.events) - 1, rank})
}

func (h *history) certainPlug() bool {
	return slices.ContainsFunc(h.plugs, func(p plug) bool { return p.rank < int(occupied) })
}

// endPeriod makes the best sign of a period its plug-in, the others stay notes.
func (h *history) endPeriod() {
	if len(h.plugs) > 0 {
		best := slices.MinFunc(h.plugs, func(a, b plug) int { return cmp.Compare(a.rank, b.rank) })
		e := &h.events[best.event]
		switch {
		case best.rank < int(occupied):
			e.Kind = "plug-in"
		case h.cable && h.seen && h.seenAt >= e.At.UnixMicro():
			// Anywhere between: the middle, and the whole as the width.
			plugged := *e
			plugged.WidthS = max(1, float64(h.seenAt-e.At.UnixMicro())/1e6)
			plugged.At = e.At.Add(time.Duration(h.seenAt-e.At.UnixMicro()) * time.Microsecond / 2)
			plugged.Kind, plugged.Text = "plug-in", e.Text+", and some time later a cable"
			h.events = append(h.events, plugged)
		}
	}
	h.period = period{}
}

func (h *history) inOrder() []source.Event {
	slices.SortStableFunc(h.events, func(a, b source.Event) int { return a.At.Compare(b.At) })
	return h.events
}
