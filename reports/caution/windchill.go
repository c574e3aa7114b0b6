package caution

import "math"

// WindChillSource names the formula of WindChill.
const WindChillSource = "wind chill index of 2001, US National Weather Service and Environment Canada"

// Limits of the formula: it was fitted to air at or below 10 °C (50 °F) and wind
// above 4.8 km/h (3 mph).
const (
	WindChillMaxC   = 10.0
	WindChillMinKmH = 4.8
)

// WindChill returns the temperature in °C, felt on bare skin, of air at tempC
// with wind at windKmH measured 10 m above the ground. It reports false, and no
// value, outside the limits of the formula and for what is no number.
//
// The metric form is used. Its constants are rounded ones of the form in °F and
// mph, so the two may differ by a few hundredths of a degree.
func WindChill(tempC, windKmH float64) (float64, bool) {
	if !(tempC <= WindChillMaxC) || !(windKmH > WindChillMinKmH) || math.IsInf(tempC, 0) || math.IsInf(windKmH, 0) {
		return 0, false
	}
	v := math.Pow(windKmH, 0.16)
	return 13.12 + 0.6215*tempC - 11.37*v + 0.3965*tempC*v, true
}
