package columnar

import (
	"math"
	"strconv"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"

	"coldbench/ingest/profile"
)

// readable reports whether a type has one value a row.
func readable(t arrow.DataType) bool {
	switch t := t.(type) {
	case *arrow.DictionaryType:
		return readable(t.ValueType)
	case *arrow.RunEndEncodedType:
		return readable(t.Encoded())
	case arrow.ExtensionType:
		return readable(t.StorageType())
	}
	return !arrow.IsNested(t.ID()) && !arrow.IsUnion(t.ID())
}

// cells reads the cells of an array, which it does not retain.
func cells(arr arrow.Array) func(i int) profile.Cell {
	at := values(arr)
	return func(i int) profile.Cell {
		if arr.IsNull(i) {
			return profile.Cell{}
		}
		return at(i)
	}
}

func values(arr arrow.Array) func(i int) profile.Cell {
	switch a := arr.(type) {
	case *array.Int8:
		return func(i int) profile.Cell { return profile.Fixed(float64(a.Value(i)), 0) }
	case *array.Int16:
		return func(i int) profile.Cell { return profile.Fixed(float64(a.Value(i)), 0) }
	case *array.Int32:
		return func(i int) profile.Cell { return profile.Fixed(float64(a.Value(i)), 0) }
	case *array.Int64:
		return func(i int) profile.Cell { return profile.Fixed(float64(a.Value(i)), 0) }
	case *array.Uint8:
		return func(i int) profile.Cell { return profile.Fixed(float64(a.Value(i)), 0) }
	case *array.Uint16:
		return func(i int) profile.Cell { return profile.Fixed(float64(a.Value(i)), 0) }
	case *array.Uint32:
		return func(i int) profile.Cell { return profile.Fixed(float64(a.Value(i)), 0) }
	case *array.Uint64:
		return func(i int) profile.Cell { return profile.Fixed(float64(a.Value(i)), 0) }
	case *array.Float16:
		return func(i int) profile.Cell { return profile.Single(a.Value(i).Float32()) }
	case *array.Float32:
		return func(i int) profile.Cell { return profile.Single(a.Value(i)) }
	case *array.Float64:
		return func(i int) profile.Cell { return profile.Float(a.Value(i)) }
	case *array.Decimal128:
		scale := a.DataType().(*arrow.Decimal128Type).Scale
		return func(i int) profile.Cell { return profile.Digits([]byte(a.Value(i).ToString(scale))) }
	case *array.Decimal256:
		scale := a.DataType().(*arrow.Decimal256Type).Scale
		return func(i int) profile.Cell { return profile.Digits([]byte(a.Value(i).ToString(scale))) }
	case *array.String:
		return func(i int) profile.Cell { return profile.Text([]byte(a.Value(i))) }
	case *array.LargeString:
		return func(i int) profile.Cell { return profile.Text([]byte(a.Value(i))) }
	case *array.StringView:
		return func(i int) profile.Cell { return profile.Text([]byte(a.Value(i))) }
	case *array.Binary:
		return func(i int) profile.Cell { return profile.Text(a.Value(i)) }
	case *array.LargeBinary:
		return func(i int) profile.Cell { return profile.Text(a.Value(i)) }
	case *array.BinaryView:
		return func(i int) profile.Cell { return profile.Text(a.Value(i)) }
	case *array.FixedSizeBinary:
		return func(i int) profile.Cell { return profile.Text(a.Value(i)) }
	case *array.Boolean:
		return func(i int) profile.Cell { return profile.Text(strconv.AppendBool(nil, a.Value(i))) }
	case *array.Dictionary:
		at := cells(a.Dictionary())
		return func(i int) profile.Cell { return at(a.GetValueIndex(i)) }
	case *array.RunEndEncoded:
		at := cells(a.Values())
		return func(i int) profile.Cell { return at(a.GetPhysicalIndex(i)) }
	case array.ExtensionArray:
		return values(a.Storage())
	}
	return times(arr)
}

func times(arr arrow.Array) func(i int) profile.Cell {
	switch a := arr.(type) {
	case *array.Timestamp:
		t := a.DataType().(*arrow.TimestampType)
		if t.TimeZone == "" {
			return func(i int) profile.Cell { return profile.Wall(micros(int64(a.Value(i)), t.Unit)) }
		}
		return func(i int) profile.Cell { return profile.Moment(micros(int64(a.Value(i)), t.Unit)) }
	case *array.Date32:
		return func(i int) profile.Cell { return profile.Wall(times64(int64(a.Value(i)), 86400e6)) }
	case *array.Date64:
		return func(i int) profile.Cell { return profile.Wall(micros(int64(a.Value(i)), arrow.Millisecond)) }
	case *array.Time32:
		unit := a.DataType().(*arrow.Time32Type).Unit
		return func(i int) profile.Cell { return profile.Span(micros(int64(a.Value(i)), unit)) }
	case *array.Time64:
		unit := a.DataType().(*arrow.Time64Type).Unit
		return func(i int) profile.Cell { return profile.Span(micros(int64(a.Value(i)), unit)) }
	case *array.Duration:
		unit := a.DataType().(*arrow.DurationType).Unit
		return func(i int) profile.Cell { return profile.Span(micros(int64(a.Value(i)), unit)) }
	}
	return func(i int) profile.Cell { return profile.Text([]byte(arr.ValueStr(i))) }
}

// micros is a count of units in µs; what is finer is cut, and what does not fit
// is as far off as can be.
func micros(v int64, unit arrow.TimeUnit) int64 {
	switch unit {
	case arrow.Second:
		return times64(v, 1e6)
	case arrow.Millisecond:
		return times64(v, 1e3)
	case arrow.Nanosecond:
		us := v / 1000
		if v%1000 < 0 {
			us--
		}
		return us
	}
	return v
}

func times64(v, unit int64) int64 {
	switch {
	case v > math.MaxInt64/unit:
		return math.MaxInt64
	case v < math.MinInt64/unit:
		return math.MinInt64
	}
	return v * unit
}
