package emulated

import (
	"math/rand/v2"
	"time"
)

// Faults is what is wrong with a chip. The zero Faults is nothing.
type Faults struct {
	NoAnswer    bool                       // no transaction is acknowledged
	StuckStatus bool                       // a conversion, once begun, never ends
	Slow        time.Duration              // every conversion takes this much longer, where the chip counts them in time
	Delay       time.Duration              // every transaction takes this long
	Block       <-chan struct{}            // unless nil, transactions wait until it is closed
	Corrupt     func(reg byte, got []byte) // unless nil, may alter what is read; reg is the register, or the first byte of the command
}

func (f Faults) hold() {
	time.Sleep(f.Delay)
	if f.Block != nil {
		<-f.Block
	}
}

// Low is a wire that is held low: whatever is read is zeros.
func Low() Faults { return Faults{Corrupt: func(_ byte, got []byte) { clear(got) }} }

// High is a wire that nobody drives: whatever is read is ones.
func High() Faults {
	return Faults{Corrupt: func(_ byte, got []byte) {
		for i := range got {
			got[i] = 0xFF
		}
	}}
}

// Garbled is a bad cable: in whatever is read, one bit is another.
func Garbled(seed uint64) Faults {
	rng := rand.New(rand.NewPCG(seed, seed))
	return Faults{Corrupt: func(_ byte, got []byte) { got[rng.IntN(len(got))] ^= 1 << rng.IntN(8) }}
}
