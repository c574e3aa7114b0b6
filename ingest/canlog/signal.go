package canlog

import "math"

// A signal is a number within a frame's data, as a DBC file describes it.
type signal struct {
	name    string // MESSAGE.SIGNAL
	start   int    // as in the file: its lowest bit in Intel order, its highest in Motorola order
	size    int    // in bits, 1 to 64
	big     bool   // Motorola order
	signed  bool
	float   bool // IEEE 754, of 32 or 64 bits
	factor  float64
	offset  float64
	muxed   bool // it is there only where the message's switch has the value mux
	mux     uint64
	unit    string
	message *message
}

// A message is the signals of one identifier.
type message struct {
	id      uint32 // with the flag extended
	name    string
	signals []*signal
	toggle  *signal // the multiplexor, or nil
	nested  bool    // a multiplexor is itself multiplexed
	iface   []byte  // where the log has it first
}

// needs is the number of bytes that the signal reaches into.
func (s *signal) needs() int {
	if !s.big {
		return (s.start + s.size + 7) / 8
	}
	// From its highest bit down to bit 0 of that byte, then whole bytes on.
	return s.start/8 + 1 + (s.size-(s.start%8+1)+7)/8
}

// raw reads the signal's bits. Bits are numbered as DBC files do: bit n is bit
// n mod 8, from the lowest, of byte n div 8. Intel order counts up from start;
// Motorola order counts down within a byte, and goes on at the next one's top.
func (s *signal) raw(data []byte) uint64 {
	var v uint64
	if s.big {
		n := s.start
		for range s.size {
			v = v<<1 | uint64(data[n>>3]>>(n&7)&1)
			if n&7 == 0 {
				n += 15
			} else {
				n--
			}
		}
		return v
	}
	for i := range s.size {
		n := s.start + i
		v |= uint64(data[n>>3]>>(n&7)&1) << i
	}
	return v
}

// value reads the signal in its unit. A float that is no number stays none.
func (s *signal) value(data []byte) float64 {
	raw := s.raw(data)
	var v float64
	switch {
	case s.float && s.size == 32:
		v = float64(math.Float32frombits(uint32(raw)))
	case s.float:
		v = math.Float64frombits(raw)
	case s.signed:
		v = float64(int64(raw<<(64-s.size)) >> (64 - s.size))
	default:
		v = float64(raw)
	}
	return s.scaled(v)
}

// scaled is v * factor + offset, exact to the last digit where the factor is one
// over a whole number, as 0.1 is: 4004 * 0.1 is more than 400.4 in binary.
func (s *signal) scaled(v float64) float64 {
	const near = 1e-9
	if per := math.Round(1 / s.factor); per > 1 && math.Abs(per*s.factor-1) < near {
		if steps := math.Round(s.offset * per); math.Abs(steps-s.offset*per) < near {
			return (v + steps) / per
		}
	}
	return v*s.factor + s.offset
}
