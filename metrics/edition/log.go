package edition

// A Log is what reports show of a session beside its figures. It is read from
// the warehouse when reports are written and is not part of the edition's data.
type Log struct {
	Session string
	Minutes []Minute // in order
	Events  []Event  // in order of time
	Phases  []Phase  // in order
	PlugS   float64  // the plug-in that the charge came from, s after the session's zero
	Trace   Trace    // empty where no power was logged
}

// A Phase is one part of a charge: soak, connect, heating-only, charging, pause,
// taper, after.
type Phase struct {
	Name     string
	From, To float64 // s after the session's zero
	Rule     string  // what ended it
}

// A Minute is one row of the minute-by-minute log: minute n is from 60n s to
// 60(n+1) s after the session's zero. nil means that nothing was logged.
type Minute struct {
	Minute    int
	PackKW    *float64 // mean power into the pack
	ChargerKW *float64 // mean power from the charger
	HeaterKW  *float64 // mean power into the pack's heater
	SoCPct    *float64 // last displayed
	PackMinC  *float64 // last, coldest sensor
	PackMaxC  *float64 // last, hottest sensor
	AmbientC  *float64 // last
	CabinC    *float64 // last
	PackKWh   *float64 // into the pack by its end, since the log began
}

// An Event is something that happened in a session.
type Event struct {
	T      float64 // s after the session's zero, the middle of the interval
	WidthS float64
	Kind   string
	Text   string
	Path   string // of the source
	Line   int64
}
