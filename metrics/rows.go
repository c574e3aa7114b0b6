package metrics

import (
	"coldbench/metrics/edition"
	"coldbench/warehouse"
)

// Rows are an edition as the warehouse keeps it.
func Rows(e *edition.Edition) warehouse.Edition {
	inputs := []string{}
	for _, in := range e.Inputs {
		inputs = append(inputs, in.Path, in.SHA256)
	}
	out := warehouse.Edition{ID: e.ID, At: e.At, Program: e.Program, Inputs: hashOf(inputs...)}
	for _, f := range e.Results {
		out.Figures = append(out.Figures, warehouse.Figure{Session: f.Session, Figure: f.Figure, Value: f.Value, U: f.U, From: f.From, To: f.To,
			Status: string(f.Status), Note: f.Note, Basis: f.Basis})
	}
	for _, g := range e.Gates {
		out.Gates = append(out.Gates, warehouse.Gate{Session: g.Session, Gate: g.Gate, Verdict: string(g.Verdict), Reason: g.Reason})
	}
	for _, s := range e.Standings {
		out.Standings = append(out.Standings, warehouse.Standing{Vehicle: s.Vehicle, Place: s.Place, Lowest: s.Lowest, Highest: s.Highest,
			Score: s.Score, U: s.U, Reason: s.Reason})
	}
	return out
}
