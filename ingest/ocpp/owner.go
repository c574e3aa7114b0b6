package ocpp

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// whose tells to which connector messages belong: some name only their
// transaction.
type whose struct {
	connectors   []int          // that the file names, without 0, in order
	transactions map[string]int // connector of each
	wanted       int            // 0: the only one
}

// owners looks through all messages, for a transaction's connector may stand in
// a message that was sent late.
func owners(messages []parsed) *whose {
	o := &whose{transactions: map[string]int{}}
	connectors := map[int]bool{}
	starting := map[string]int{} // StartTransaction's connector, by the call's id
	for i := range messages {
		p := &messages[i]
		if p.d != nil {
			continue
		}
		c, tx := p.payload.connector(), p.payload.transaction()
		switch {
		case p.kind == call && c > 0:
			connectors[c] = true
			if tx != "" {
				o.transactions[tx] = c
			}
			if p.action == "StartTransaction" && p.id != "" {
				starting[p.id] = c
			}
		case p.kind == callResult && tx != "":
			if c, ok := starting[p.id]; ok {
				o.transactions[tx] = c
			}
		}
	}
	o.connectors = slices.Sorted(maps.Keys(connectors))
	return o
}

// choose takes the connector that the session states, and says what is wrong
// with it, or with stating none.
func (o *whose) choose(in source.Input) *diag.Diagnostic {
	o.wanted = in.Source.Connector
	names := strings.Trim(strings.Join(strings.Fields(fmt.Sprint(o.connectors)), ", "), "[]")
	switch {
	case o.wanted == 0 && len(o.connectors) > 1:
		return diag.New(diag.Pos{File: in.Shown}, "the file has messages of %d connectors: %s", len(o.connectors), names).
			WithHint("state connector = %d at the session's source", o.connectors[0])
	case o.wanted != 0 && len(o.connectors) > 0 && !slices.Contains(o.connectors, o.wanted):
		return diag.New(in.Session.At("source"), "%s has no message of connector %d", in.Shown, o.wanted).WithHint("it has messages of %s", names)
	}
	return nil
}

// of is the connector of a message: 0 for the charger as a whole, -1 if nothing
// tells.
func (o *whose) of(p *parsed) int {
	if c := p.payload.connector(); c >= 0 {
		return c
	}
	if c, ok := o.transactions[p.payload.transaction()]; ok {
		return c
	}
	return -1
}

// foreign reports whether a call is of another connector than the wanted one.
func (o *whose) foreign(p *parsed) bool {
	c := o.of(p)
	return p.kind == call && len(o.connectors) > 1 && c > 0 && c != o.wanted
}

// What the samples of a message stand for.
const (
	ownMeter = iota
	gridMeter
	foreignMeter
)

// main tells what a message's samples stand for. Where the file has several
// connectors, those of the whole charger, or of nobody knows which, are not the
// car's.
func (o *whose) main(p *parsed) int {
	c := o.of(p)
	switch {
	case c > 0 || c < 0 && len(o.connectors) <= 1:
		return ownMeter
	case c == 0 && len(o.connectors) <= 1:
		return gridMeter
	}
	return foreignMeter
}

// token is the verdict of an answer on a card, or "".
func token(p *payload) string {
	if p.IDTagInfo.Status != "" {
		return p.IDTagInfo.Status
	}
	return p.IDTokenInfo.Status
}

// null reports whether a payload is left out.
func null(raw json.RawMessage) bool { return len(raw) == 0 || string(raw) == "null" }
