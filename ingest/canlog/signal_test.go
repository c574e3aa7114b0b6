package canlog

import (
	"math/rand/v2"
	"testing"

	"go.einride.tech/can"
)

// What another library encodes, bit position by bit position, is read back: it
// numbers bits as DBC files do.
func TestSignalsAgainstAnEncoder(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	orders := map[bool]int{}
	for range 20_000 {
		size := 1 + rng.IntN(64)
		s := signal{start: rng.IntN(64), size: size, big: rng.IntN(2) == 0, signed: rng.IntN(2) == 0, factor: 1}
		if s.needs() > 8 {
			continue
		}
		var data can.Data
		for i := range data {
			data[i] = byte(rng.Uint32()) // around the signal
		}
		raw := rng.Uint64() >> (64 - size)
		if s.big {
			data.SetUnsignedBitsBigEndian(uint8(s.start), uint8(size), raw)
		} else {
			data.SetUnsignedBitsLittleEndian(uint8(s.start), uint8(size), raw)
		}
		want := float64(raw)
		if s.signed && raw>>(size-1) == 1 {
			want = float64(raw) - 2*float64(uint64(1)<<(size-1))
			if size > 53 { // more than a double holds of the unsigned number
				want = float64(int64(raw | ^uint64(0)<<(size-1)))
			}
		}
		if got := s.value(data[:s.needs()]); got != want {
			t.Fatalf("%+v: got %g, want %g", s, got, want)
		}
		orders[s.big]++
	}
	if orders[true] < 1000 || orders[false] < 1000 {
		t.Errorf("too few: %v", orders)
	}
}
