package demo

// The invented cars. Their names are trees; no real car is meant, and no number
// is any real car's. What is typical of a kind of heater is common practice, no
// source: a coolant loop loses some of its heat on the way, a film on the cells
// little, a motor driven to waste much; a heat pump gives more than it takes.
var (
	alder = Car{ID: "alder-60", Name: "Alder 60", UsableKWh: 58, PackMassKg: 400, SpecificHeat: 1000, LossKWPerK: 0.0125, Heater: "coolant", HeaterKW: 5.5, HeaterShare: 0.88, AccessoryKW: 0.35,
		OnsetC: 3, WarmC: 22, StepKW: 24, PeakKW: 120, ReservePct: 2.2, PackV: 355, PackOhm: 0.07, RatedWhKm: 158,
		Body: Body{MassKg: 1850, DragM2: 0.66, CabinKWhK: 0.026, CabinKWK: 0.062, CabinKW: 5.5, CabinShare: 0.95, OutKW: 150, RegenKW: 60, StandbyW: 18}}
	birch = Car{ID: "birch-77", Name: "Birch 77", UsableKWh: 74, PackMassKg: 480, SpecificHeat: 1000, LossKWPerK: 0.015, Heater: "film", HeaterKW: 6.5, HeaterShare: 0.95, AccessoryKW: 0.3,
		OnsetC: 2, WarmC: 24, StepKW: 28, PeakKW: 150, ReservePct: 1.8, PackV: 395, PackOhm: 0.06, RatedWhKm: 171,
		Body: Body{MassKg: 2100, DragM2: 0.70, CabinKWhK: 0.030, CabinKWK: 0.068, CabinKW: 6, CabinShare: 0.95, OutKW: 200, RegenKW: 80, StandbyW: 25}}
	cedar = Car{ID: "cedar-50", Name: "Cedar 50", UsableKWh: 47, PackMassKg: 345, SpecificHeat: 1100, LossKWPerK: 0.0115, Heater: "motor-loss", HeaterKW: 3.4, HeaterShare: 0.7, AccessoryKW: 0.45,
		OnsetC: -2, WarmC: 20, StepKW: 20, PeakKW: 95, ReservePct: 3, PackV: 345, PackOhm: 0.09, RatedWhKm: 149,
		Body: Body{MassKg: 1600, DragM2: 0.62, CabinKWhK: 0.022, CabinKWK: 0.060, CabinKW: 4.2, CabinShare: 0.95, OutKW: 100, RegenKW: 45, StandbyW: 12}}
	larch = Car{ID: "larch-90", Name: "Larch 90", UsableKWh: 86, PackMassKg: 560, SpecificHeat: 950, LossKWPerK: 0.0175, Heater: "coolant", HeaterKW: 7.5, HeaterShare: 0.9, AccessoryKW: 0.4,
		OnsetC: 5, WarmC: 26, StepKW: 32, PeakKW: 170, ReservePct: 1.5, PackV: 640, PackOhm: 0.12, RatedWhKm: 186,
		Body: Body{MassKg: 2350, DragM2: 0.74, CabinKWhK: 0.034, CabinKWK: 0.072, CabinKW: 7, CabinShare: 0.95, OutKW: 240, RegenKW: 95, StandbyW: 35}}
	rowan = Car{ID: "rowan-40", Name: "Rowan 40", UsableKWh: 38, PackMassKg: 290, SpecificHeat: 1050, LossKWPerK: 0.0105, Heater: "heat-pump", HeaterKW: 2.6, HeaterShare: 1.1, AccessoryKW: 0.25,
		OnsetC: 0, WarmC: 18, StepKW: 21, PeakKW: 72, ReservePct: 2.5, PackV: 350, PackOhm: 0.1, RatedWhKm: 142,
		Body: Body{MassKg: 1450, DragM2: 0.60, CabinKWhK: 0.020, CabinKWK: 0.055, CabinKW: 2.4, CabinShare: 1.7, OutKW: 80, RegenKW: 40, StandbyW: 9}}
	spruce = Car{ID: "spruce-82", Name: "Spruce 82", UsableKWh: 79, PackMassKg: 510, SpecificHeat: 1000, LossKWPerK: 0.0165, Heater: "coolant", HeaterKW: 6.8, HeaterShare: 0.86, AccessoryKW: 0.5,
		OnsetC: 4, WarmC: 25, StepKW: 26, PeakKW: 135, ReservePct: 2, PackV: 400, PackOhm: 0.065, RatedWhKm: 178,
		Body: Body{MassKg: 2200, DragM2: 0.72, CabinKWhK: 0.032, CabinKWK: 0.070, CabinKW: 6.5, CabinShare: 0.95, OutKW: 190, RegenKW: 75, StandbyW: 30}}
	willow = Car{ID: "willow-65", Name: "Willow 65", UsableKWh: 62, PackMassKg: 430, SpecificHeat: 1000, LossKWPerK: 0.014, Heater: "film", HeaterKW: 5, HeaterShare: 0.93, AccessoryKW: 0.3,
		OnsetC: 1, WarmC: 21, StepKW: 23, PeakKW: 110, ReservePct: 2.4, PackV: 365, PackOhm: 0.075, RatedWhKm: 160,
		Body: Body{MassKg: 1900, DragM2: 0.66, CabinKWhK: 0.027, CabinKWK: 0.064, CabinKW: 5, CabinShare: 0.95, OutKW: 140, RegenKW: 55, StandbyW: 20}}
)

// Cars returns the invented cars, by ID.
func Cars() []Car { return []Car{alder, birch, cedar, larch, rowan, spruce, willow} }
