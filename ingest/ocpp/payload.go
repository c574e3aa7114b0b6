package ocpp

import "encoding/json"

// A payload holds the fields of all messages that are read, of 1.6 and 2.0.1.
// What a message does not have stays zero.
type payload struct {
	Timestamp string `json:"timestamp"`

	// Whose: 1.6 has connectors, 2.0.1 numbers the outlets that can be used at once.
	ConnectorID   *int            `json:"connectorId"`
	EVSEID        *int            `json:"evseId"`
	EVSE          *evse           `json:"evse"`
	TransactionID json.RawMessage `json:"transactionId"`

	MeterValue      []json.RawMessage `json:"meterValue"`
	TransactionData []json.RawMessage `json:"transactionData"` // StopTransaction's meter values
	MeterStart      *float64          `json:"meterStart"`      // Wh
	MeterStop       *float64          `json:"meterStop"`       // Wh

	Status          string `json:"status"`          // 1.6
	ConnectorStatus string `json:"connectorStatus"` // 2.0.1
	ErrorCode       string `json:"errorCode"`
	Info            string `json:"info"`
	Reason          string `json:"reason"` // of StopTransaction

	EventType       string          `json:"eventType"`
	TriggerReason   string          `json:"triggerReason"`
	TransactionInfo transactionInfo `json:"transactionInfo"`

	IDTagInfo   tokenInfo `json:"idTagInfo"`   // of an answer, 1.6
	IDTokenInfo tokenInfo `json:"idTokenInfo"` // of an answer, 2.0.1
}

type evse struct {
	ID int `json:"id"`
}

type transactionInfo struct {
	TransactionID string `json:"transactionId"`
	ChargingState string `json:"chargingState"`
	StoppedReason string `json:"stoppedReason"`
}

type tokenInfo struct {
	Status string `json:"status"`
}

// transaction is the transaction's name, "" if the message names none.
func (p *payload) transaction() string {
	if p.TransactionInfo.TransactionID != "" {
		return p.TransactionInfo.TransactionID
	}
	if string(p.TransactionID) == "null" {
		return ""
	}
	return string(p.TransactionID)
}

// connector is the outlet that the message names, -1 if it names none.
func (p *payload) connector() int {
	switch {
	case p.EVSE != nil:
		return p.EVSE.ID
	case p.EVSEID != nil:
		return *p.EVSEID
	case p.ConnectorID != nil:
		return *p.ConnectorID
	}
	return -1
}

// A meterValue is what was sampled at one moment.
type meterValue struct {
	Timestamp    string         `json:"timestamp"`
	SampledValue []sampledValue `json:"sampledValue"`
}

type sampledValue struct {
	Value         json.RawMessage `json:"value"` // a string in 1.6, a number in 2.0.1
	Context       string          `json:"context"`
	Format        string          `json:"format"`
	Measurand     string          `json:"measurand"`
	Mesurand      string          `json:"mesurand"` // as some chargers spell it; without it the default would be assumed
	Phase         string          `json:"phase"`
	Location      string          `json:"location"`
	Unit          string          `json:"unit"`
	UnitOfMeasure struct {
		Unit       string `json:"unit"`
		Multiplier int    `json:"multiplier"`
	} `json:"unitOfMeasure"`
}
