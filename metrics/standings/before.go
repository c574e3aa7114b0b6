package standings

import "math"

// Beside is how many cars each is set beside in Before: those right after it. Of
// cars that are further apart the places tell, and all pairs of a thousand cars
// would be half a million.
const Beside = 20

// A before counts in how many draws each car of a ranking has more points than those
// right after it: in how many its rank is the smaller number. Ranks of several draws
// lie side by side in a word and are compared at once.
type before struct {
	ranking *ranking
	width   int        // bits a rank, the topmost of which is free
	words   [][]uint64 // of the part's ranks, by car
	twice   [][]int    // by place, beside each of those after it: twice the draws with more points, and those with as many
}

func newBefore(r *ranking) *before {
	b := &before{ranking: r, width: widthOf(r.n), words: make([][]uint64, r.n), twice: make([][]int, r.n)}
	for i := range r.n {
		b.words[i] = make([]uint64, part*b.width/64)
		b.twice[i] = make([]int, min(Beside, r.n-1-i))
	}
	return b
}

func widthOf(cars int) int {
	if cars < 1<<15 {
		return 16
	}
	return 32
}

// pack puts a car's ranks into its words.
func (b *before) pack(car int) {
	ranks, lanes := b.ranking.ranksOf(car), 64/b.width
	for k := range b.words[car] {
		word := uint64(0)
		for _, rank := range ranks[k*lanes:][:lanes] {
			word = word<<b.width | uint64(rank)
		}
		b.words[car][k] = word
	}
}

// compare compares the car of a place with those after it.
func (b *before) compare(place int) {
	one := b.words[b.ranking.car[place]]
	for k := range b.twice[place] {
		b.twice[place][k] += twiceAhead(one, b.words[b.ranking.car[place+1+k]], b.width)
	}
}

// twiceAhead is twice the number of ranks that are smaller than the other's, and that
// of those that are equal.
func twiceAhead(one, other []uint64, width int) int {
	lane := uint64(1)<<width - 1
	unit := math.MaxUint64 / lane // 1 in each lane
	top, shift := unit<<(width-1), width-1
	other = other[:len(one)]
	sum := uint64(0)
	for k, x := range one {
		by := (other[k] | top) - x // what the other is larger by, and the top bit, which is gone where it is smaller
		sum += by>>shift&unit + (by-unit)>>shift&unit
	}
	n := 0
	for ; sum > 0; sum >>= width {
		n += int(sum & lane)
	}
	return n
}

// shares are Before of the table: what ties are halved in.
func (b *before) shares() [][]float64 {
	out := make([][]float64, len(b.twice))
	for i, row := range b.twice {
		out[i] = make([]float64, len(row))
		for k, twice := range row {
			out[i][k] = float64(twice) / (2 * draws)
		}
	}
	return out
}
