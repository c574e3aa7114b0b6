// Package caution holds the warnings that every report and run sheet carries,
// with the titles of what they follow, and the wind chill of cold air.
//
// It is text and one formula. It gives no medical or electrical advice of its
// own: every text defers to the maker's manual, the charger's operator, local
// codes and licensed people.
package caution

// A Caution is one warning.
type Caution struct {
	Title   string
	Text    string // whole sentences
	Sources []Source
}

// A Source is a publication that a caution follows, by title.
type Source struct {
	Title  string
	Memory bool // named from memory, the text was not at hand
}

// String is the title, and whether it is from memory.
func (s Source) String() string {
	if s.Memory {
		return s.Title + " (from memory)"
	}
	return s.Title
}

// Defer says whose word counts before that of a report.
const Defer = "These cautions do not replace the car maker's manual, the charger operator's instructions, local codes or the " +
	"work of licensed people. Where they differ, follow those, not this."

// All returns the cautions in the order in which reports print them. The
// caller owns the slice.
func All() []Caution {
	return []Caution{
		{
			"Cold injury",
			"Standing beside a car for an hour is harder on people than driving it. Dress in dry layers, cover skin, do not touch bare metal, " +
				"work in pairs and warm up indoors in turns. Numbness, white or waxy skin, shivering that will not stop, slurred speech or " +
				"clumsiness mean: stop the test, get the person warm, call for help. No log is worth a finger.",
			[]Source{
				{"CDC/NIOSH, Cold Stress", false},
				{"OSHA Cold Stress Guide", false},
				{"OSHA Winter Weather: Plan. Equip. Train.", false},
				{"NASD, Outdoor Action Guide to Hypothermia and Cold Weather Injuries", false},
				{"NWS Wind Chill Chart", true},
			},
		},
		{
			"High voltage and frozen connectors",
			"Never force a frozen connector or its latch, never pour water on it, never lever or hammer it, never defeat an interlock or open " +
				"an orange cable. Dry warmth and patience, or the operator's hotline, are the only tools. A cracked housing, a smell, smoke or a " +
				"warning lamp ends the session: step away and call the emergency services, and say that the car has a high-voltage battery.",
			[]Source{
				{"NHTSA, Interim Guidance for Electric and Hybrid-Electric Vehicles Equipped With High-Voltage Batteries", true},
				{"NFPA, Emergency Field Guide", true},
				{"SAE J2990", true},
				{"IEC 61851-1 and 61851-23, IEC 62196-3", true},
				{"NFPA 70E and OSHA 29 CFR 1910.333", true},
			},
		},
		{
			"A car left with little charge",
			"A cold soak at a low state of charge leaves no reserve: the display may fall further overnight, and a car that cannot heat its " +
				"pack may refuse to drive or to charge. Keep a second way home and a second charger in reach, tell somebody the plan, and " +
				"keep the charge above the least that the maker's manual asks for storage in the cold.",
			nil,
		},
		{
			"Idling support cars",
			"An engine that idles to keep people warm makes carbon monoxide, which has no smell. Never idle in a garage, beside a tent or with " +
				"the exhaust in snow; leave a window open; carry an alarm. Headache, dizziness or sickness mean: out into the open air, and call for help.",
			[]Source{{"CDC, Carbon Monoxide Poisoning", true}},
		},
	}
}
