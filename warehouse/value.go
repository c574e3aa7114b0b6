package warehouse

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"math"
	"math/big"
	"strconv"
	"time"

	"github.com/marcboeker/go-duckdb"
)

// Values scans a row of a query that may give anything, and makes of it what JSON
// knows: nil, bool, json.Number, string, []any and map[string]any. Moments are
// UTC, as text; so are days, times of day, intervals, bytes, these in hex, and
// floats that are no numbers.
func Values(rows *sql.Rows) ([]any, error) {
	types, err := rows.ColumnTypes()
	if err != nil {
		return nil, err
	}
	values := make([]any, len(types))
	dest := make([]any, len(types))
	for i := range values {
		dest[i] = &values[i]
	}
	if err := rows.Scan(dest...); err != nil {
		return nil, err
	}
	for i, v := range values {
		values[i] = value(v, types[i].DatabaseTypeName())
	}
	return values, nil
}

// value makes one value, of a column of the type, or of an unknown one ("").
func value(v any, typ string) any {
	switch v := v.(type) {
	case nil, bool, string:
		return v
	case float64:
		return float(v, 64)
	case float32:
		return float(float64(v), 32)
	case *big.Int:
		return json.Number(v.String())
	case duckdb.Decimal:
		return decimal(v)
	case time.Time:
		layout := map[string]string{"DATE": "2006-01-02", "TIME": "15:04:05.999999"}[typ]
		if layout == "" {
			layout = "2006-01-02T15:04:05.999999Z"
		}
		return v.UTC().Format(layout)
	case duckdb.Interval:
		return fmt.Sprintf("%d months %d days %g s", v.Months, v.Days, float64(v.Micros)/1e6)
	case []byte:
		if typ == "UUID" && len(v) == 16 {
			return fmt.Sprintf("%x-%x-%x-%x-%x", v[:4], v[4:6], v[6:8], v[8:10], v[10:])
		}
		return fmt.Sprintf("%x", v)
	case []any:
		list := make([]any, len(v))
		for i := range v {
			list[i] = value(v[i], "")
		}
		return list
	case map[string]any:
		fields := map[string]any{}
		for k := range v {
			fields[k] = value(v[k], "")
		}
		return fields
	case duckdb.Map:
		fields := map[string]any{}
		for k := range v {
			fields[fmt.Sprint(value(k, ""))] = value(v[k], "")
		}
		return fields
	case int8, int16, int32, int64, uint8, uint16, uint32, uint64:
		return json.Number(fmt.Sprint(v))
	}
	return fmt.Sprint(v)
}

func float(v float64, bits int) any {
	text := strconv.FormatFloat(v, 'g', -1, bits)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return text
	}
	return json.Number(text)
}

// decimal is a number to the last digit that it has.
func decimal(d duckdb.Decimal) json.Number {
	return json.Number(new(big.Rat).SetFrac(d.Value, new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(d.Scale)), nil)).FloatString(int(d.Scale)))
}
