package odour

import (
	"fmt"
	"math"

	"recoat/drying"
)

// smell is how a kind of finish smells, in multiples of what is just noticed
// close to the piece in a usual room, and how fast each part of it halves at
// 23 °C. The first part is solvent, water's companions and the like that leave
// the wet film: it begins at ten, so that it is gone when nine tenths have
// left. The second leaves the dry film and the wood, or is made while oil
// oxidises.
type smell struct {
	fastHalf float64 // h
	slow     float64 // at the beginning
	slowHalf float64 // h
}

const fastStart = 10

type kind struct {
	family drying.Family
	name   string
}

// smells returns every kind of package drying.
//
// Published: nine tenths of the solvent of an alkyd leave within some 10 h, a
// half-life of 3 h (EPA/600/A-98/024; the hours from memory), and the aldehydes
// that it makes go on for several days (Chang and Guo, 1998), here three to
// seven; a latex paint on steel gives off for three to four days (Sparks et al.,
// Indoor Air 9 (1999) 10), and far longer on what soaks it up. Common practice,
// no source: pieces with a solvent-based stain have been reported to smell in a
// home for up to a month, with a water-based one hardly. All others: judgement.
func smells() map[kind]smell {
	return map[kind]smell{
		{drying.Waterborne, "acrylic"}:      {6, 2.2, 65},
		{drying.Waterborne, "polyurethane"}: {6, 2.2, 65},
		{drying.Waterborne, "stain"}:        {4, 1, 24},
		{drying.Waterborne, "casein"}:       {3, 0.5, 24},
		{drying.Solvent, "shellac"}:         {2, 0.5, 24},
		{drying.Solvent, "lacquer"}:         {3, 3, 48},
		{drying.Oxidising, "alkyd"}:         {3, 5, 50},
		{drying.Oxidising, "oil"}:           {6, 10, 132}, // a solvent-based stain is one
		{drying.Oxidising, "hardwax"}:       {6, 5, 72},
		{drying.TwoPart, "epoxy"}:           {6, 3, 48},
		{drying.TwoPart, "polyurethane"}:    {3, 3, 36},
		{drying.MoistureCuring, "urethane"}: {3, 4, 48},
	}
}

func smellOf(p drying.Product) (smell, error) {
	s, ok := smells()[kind{p.Family, p.Kind}]
	if !ok {
		return s, fmt.Errorf("nothing is known of how %s, %s smells", p.Family, p.Kind)
	}
	return s, nil
}

// left returns what is left of a smell after so many hours at 23 °C, for a fast
// part that leaves so many times as fast as in a usual room.
func (s smell) left(hours, airing float64) float64 {
	return fastStart*math.Exp2(-hours*airing/s.fastHalf) + s.slow*math.Exp2(-hours/s.slowHalf)
}

// gone returns after how many hours at 23 °C a smell is just noticed.
func (s smell) gone(airing float64) float64 {
	low, high := 0.0, 1.0
	for s.left(high, airing) > 1 {
		high *= 2
	}
	for range 60 {
		if middle := (low + high) / 2; s.left(middle, airing) > 1 {
			low = middle
		} else {
			high = middle
		}
	}
	return high
}

// backPressure is the air change, per hour, at which a piece's own vapour in the
// room halves what leaves it: its surface times the speed of the exchange over
// the room's volume. Judgement.
const backPressure = 0.5

// airing returns how many times as fast as in a usual room the fast part leaves,
// by the steady balance of a room: a share N/(N + backPressure) of what would
// leave in clean air. What has to come out of film and wood first does not
// depend on it.
func airing(change float64) float64 {
	if change == 0 {
		return 1
	}
	share := func(n float64) float64 { return n / (n + backPressure) }
	return share(change) / share(usualAirChange)
}
