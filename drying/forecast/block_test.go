package forecast

import (
	"math"
	"math/rand/v2"
	"testing"
)

// With one forecast to a block the standard error is the binomial one; with
// many that hold or miss together it is that of the number of blocks.
func TestStandardErrorOfBlocks(t *testing.T) {
	for _, each := range []int{1, 10} {
		var b blocks
		for i := range 50 * each {
			b.add(i/each, (i/each)%5 != 0)
		}
		want := math.Sqrt(0.8 * 0.2 / 49)
		if got := b.standardError(); math.Abs(got-want) > 1e-12 {
			t.Errorf("%d to a block: %v, want %v", each, got, want)
		}
	}
	var one blocks
	one.add(3, true)
	if got := one.standardError(); !math.IsNaN(got) {
		t.Errorf("one block: %v", got)
	}
}

// The shares of many records spread as the error of each says: days of ten
// forecasts each, of which some days hold nine in ten and others six.
func TestStandardErrorIsTheSpreadOfShares(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	const records, days = 2000, 20
	var sum, squares, errors float64
	for range records {
		var b blocks
		held := 0.0
		for i := range days {
			holds := 0.9
			if r.IntN(3) == 0 {
				holds = 0.6
			}
			for range 10 {
				did := r.Float64() < holds
				if did {
					held++
				}
				b.add(i, did)
			}
		}
		share := held / (10 * days)
		sum += share
		squares += share * share
		errors += b.standardError()
	}
	spread := math.Sqrt(squares/records - (sum/records)*(sum/records))
	if mean := errors / records; math.Abs(mean/spread-1) > 0.06 {
		t.Errorf("the mean standard error is %.4f, the shares spread by %.4f", mean, spread)
	}
}
