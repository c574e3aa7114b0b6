package channel

import "coldbench/warehouse/diag"

// An EventKind is a kind of moment that a note, a charger or a car may report.
type EventKind struct {
	Name string
	Doc  string
}

var eventKinds = []EventKind{
	{"soak-start", "the car was left outside"},
	{"plug-in", "the connector was latched; the first one is the zero of the session clock"},
	{"latch-failure", "an attempt to connect failed"},
	{"authorised", "the charger accepted the payment or the card"},
	{"charge-start", "the charger closed its contactor"},
	{"onset-seen", "a person or a display saw the pack take energy"},
	{"charge-stop", "the charge ended or paused"},
	{"unplug", "the connector was pulled"},
	{"heater-on", "a heater was switched on"},
	{"heater-off", "a heater was switched off"},
	{"drive-start", "the car set off"},
	{"drive-stop", "the car stopped"},
	{"precipitation", "snow or rain on the car"},
	{"note", "free text"},
}

// EventKinds returns the catalogue of events in its fixed order.
func EventKinds() []EventKind { return append([]EventKind(nil), eventKinds...) }

// FindEvent looks a kind of event up. Its error is a *diag.Diagnostic without
// a position.
func FindEvent(name string) (EventKind, error) {
	names := make([]string, len(eventKinds))
	for i, k := range eventKinds {
		if k.Name == name {
			return k, nil
		}
		names[i] = k.Name
	}
	return EventKind{}, diag.New(diag.Pos{}, "unknown event %q", name).WithHint("%s", diag.OneOf(name, names))
}
