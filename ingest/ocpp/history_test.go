package ocpp

import (
	"fmt"
	"strings"
	"testing"
)

// Each step of a history is a word, a second apart: a status of 1.6, with an
// error code behind a slash; a trigger and a charging state of 2.0.1 joined by
// "+"; "Ended/REASON"; "Start" and "Stop/REASON" of a transaction of 1.6.
func TestHistories(t *testing.T) {
	for _, c := range []struct{ name, steps, want string }{
		{"repeated state", "CablePluggedIn+EVConnected MeterValuePeriodic+EVConnected ChargingStateChanged+Charging MeterValuePeriodic+Charging",
			"1 plug-in, 1 note, 3 charge-start"},
		{"plugged in again", "CablePluggedIn+ EVDeparted+ CablePluggedIn+ ChargingStateChanged+Charging EVDeparted+",
			"1 plug-in, 2 unplug, 3 plug-in, 4 charge-start, 5 charge-stop, 5 unplug"},
		// The bay saw the car before the cable was in.
		{"detected first", "EVDetected+Idle CablePluggedIn+EVConnected", "1 note, 2 plug-in, 2 note"},
		{"detected only", "EVDetected+Idle Authorized+Idle", "1 plug-in, 2 authorised"},
		{"state only", "Authorized+Idle ChargingStateChanged+EVConnected ChargingStateChanged+Charging", "1 authorised, 2 plug-in, 3 charge-start"},
		// Connected, but since when is in no message.
		{"in the middle", "ChargingStateChanged+SuspendedEV ChargingStateChanged+EVConnected ChargingStateChanged+Charging", "1 note, 3 charge-start"},
		{"idle after", "CablePluggedIn+Charging ChargingStateChanged+Idle", "1 plug-in, 1 charge-start, 2 charge-stop"},
		{"back to connected", "CablePluggedIn+Charging ChargingStateChanged+EVConnected", "1 plug-in, 1 charge-start, 2 charge-stop"},
		{"ended by pulling", "CablePluggedIn+Charging Ended/EVDisconnected Available", "1 plug-in, 1 charge-start, 2 charge-stop, 2 unplug"},
		{"ended, then free", "CablePluggedIn+Charging Ended/Remote Available", "1 plug-in, 1 charge-start, 2 charge-stop, 3 unplug"},
		{"lost", "CablePluggedIn+Charging EVCommunicationLost+Charging", "1 plug-in, 1 charge-start, 2 note"},

		// 1.6: the cable came between Preparing and Charging, 2 s later.
		{"preparing", "Preparing Preparing Charging", "1 note, 2 plug-in by 2 s, 3 charge-start"},
		{"a card and no car", "Preparing Available", "1 note"},
		{"still waiting", "Preparing", "1 note"},
		{"no latch", "Preparing Faulted/ConnectorLockFailure Available Preparing SuspendedEV Charging Available",
			"1 note, 2 latch-failure, 2 note, 4 note, 4 plug-in by 1 s, 5 note, 6 charge-start, 7 charge-stop, 7 unplug"},
		{"transaction", "Preparing Start Charging SuspendedEVSE Charging Stop/EVDisconnected Available",
			"1 note, 1 plug-in by 1 s, 2 authorised, 3 charge-start, 4 charge-stop, 5 charge-start, 6 charge-stop, 6 unplug"},
		{"finishing", "Start Charging Stop/Local Finishing Preparing Available", "1 authorised, 2 charge-start, 3 charge-stop, 6 unplug"},
		{"fault", "Charging Faulted/GroundFailure Available", "1 charge-start, 2 charge-stop, 3 unplug"},
		{"out of use", "Unavailable Unavailable Faulted/OtherError", "1 note, 3 note"},
	} {
		var lines []string
		for i, step := range strings.Fields(c.steps) {
			at := fmt.Sprintf("2026-01-12T06:00:%02dZ", i+1)
			head, tail, _ := strings.Cut(step, "/")
			trigger, state, new := strings.Cut(step, "+")
			line := ""
			switch {
			case new:
				line = fmt.Sprintf(`[2,"%d","TransactionEvent",{"eventType":"Updated","timestamp":%q,"triggerReason":%q,"seqNo":0,"transactionInfo":{"transactionId":"t","chargingState":%q}}]`, i, at, trigger, state)
			case head == "Ended":
				line = fmt.Sprintf(`[2,"%d","TransactionEvent",{"eventType":"Ended","timestamp":%q,"triggerReason":"Trigger","seqNo":0,"transactionInfo":{"transactionId":"t","stoppedReason":%q}}]`, i, at, tail)
			case head == "Start":
				line = fmt.Sprintf(`[2,"%d","StartTransaction",{"connectorId":1,"idTag":"x","meterStart":0,"timestamp":%q}]`, i, at)
			case head == "Stop":
				line = fmt.Sprintf(`[2,"%d","StopTransaction",{"transactionId":1,"meterStop":0,"timestamp":%q,"reason":%q}]`, i, at, tail)
			default:
				line = fmt.Sprintf(`[2,"%d","StatusNotification",{"connectorId":1,"status":%q,"errorCode":%q,"timestamp":%q}]`, i, head, tail, at)
			}
			lines = append(lines, line)
		}
		// The order in the file is no matter: chargers send late what they could not send.
		lines = append(lines[1:], lines[0])
		_, r, l := read(t, input(t, strings.Join(lines, "\n")))
		if l != nil {
			t.Fatal(l)
		}
		var got []string
		for _, e := range r.Events {
			s := fmt.Sprintf("%d %s", e.At.Second(), e.Kind)
			if e.Kind == "plug-in" && strings.Contains(e.Text, "some time later") {
				s += fmt.Sprintf(" by %g s", e.WidthS)
			}
			got = append(got, s)
		}
		if s := strings.Join(got, ", "); s != c.want {
			t.Errorf("%s: got\n%s\nwant\n%s", c.name, s, c.want)
		}
	}
}
