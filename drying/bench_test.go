package drying

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"recoat/sensors"
)

// changing is a room that never has the same conditions twice, good enough for
// every kind to dry in.
func changing(i int) Conditions {
	x := float64(i)
	at := 19 + 2*math.Sin(x/1300) + 0.1*math.Sin(x/7)
	return Conditions{
		Air: sensors.Celsius(at), Surface: sensors.Celsius(at - 0.8), SurfaceMeasured: true,
		Humidity: sensors.RelativeHumidity(52 + 6*math.Sin(x/2100) + 0.2*math.Cos(x/5)),
	}
}

// slowest is a waterborne label of which no stage is reached in a year, so
// that every track is counted to the end.
func slowest() Coat {
	p := label(Waterborne, "acrylic", 700*day)
	for _, s := range Stages() {
		p.Stated.Times[s] = 700 * day
	}
	return Coat{Product: p, Applied: noon}
}

// A year of readings every ten seconds, one after the other, against the bare
// exponentials and logarithms that the equations call for in as many readings.
// A saturation pressure is one of each; they are needed at the air, at the
// film, for the two steps of Newton's method that find the wet bulb, and for the
// three bounds on dew margin, humidity at the surface and saturation of the
// film. Coalescence is one more exponential.
func BenchmarkFollowerYear(b *testing.B) {
	const perDay = 24 * 360
	samples := make([]Sample, perDay)
	var follow, bare time.Duration
	for b.Loop() {
		f := NewFollower(slowest())
		for d := range 365 {
			for i := range samples {
				n := d*perDay + i
				samples[i] = Sample{noon.Add(time.Duration(n) * 10 * time.Second), changing(n)}
			}
			began := time.Now()
			if err := f.Add(samples...); err != nil {
				b.Fatal(err)
			}
			f.at(samples[perDay-1].At)
			follow += time.Since(began)
			bare += bareExponentials(perDay)
		}
	}
	per := float64(b.N) * 365 * perDay
	b.ReportMetric(float64(follow.Nanoseconds())/per, "ns/reading")
	b.ReportMetric(float64(bare.Nanoseconds())/per, "ns/bare")
	b.ReportMetric(float64(follow)/float64(bare), "x-bare")
}

var sink float64

func bareExponentials(n int) time.Duration {
	const exponentials, logarithms = 2 + 2 + 3 + 1, 2 + 2 + 3
	began := time.Now()
	sum := 0.0
	for i := range n {
		x := 5 + float64(i)*1e-9
		for j := range exponentials {
			sum += math.Exp(x + float64(j)*0.1)
		}
		for j := range logarithms {
			sum += math.Log(280 + x + float64(j))
		}
	}
	sink += sum
	return time.Since(began)
}

// tenCoats is one coat of each of ten kinds, put on an hour ago, with an hour
// of readings.
func tenCoats(b *testing.B) []*Follower {
	var all []*Follower
	for _, p := range everyKind()[:10] {
		f := NewFollower(Coat{Product: p, Applied: noon, Film: 90})
		for i := range 360 {
			if err := f.Add(Sample{noon.Add(time.Duration(i) * 10 * time.Second), changing(i)}); err != nil {
				b.Fatal(err)
			}
		}
		f.at(noon.Add(time.Hour))
		all = append(all, f)
	}
	return all
}

// Ten coats, each of a kind of its own, over 500 courses of two days in steps
// of half an hour, against the bare exponentials of as many members, coats and
// steps.
func BenchmarkDistribution(b *testing.B) {
	coats, courses := tenCoats(b), wander(500, 96)
	const cells = 500 * 96 * 10
	var taken, bare time.Duration
	for b.Loop() {
		began := time.Now()
		e, err := NewEnsemble(noon.Add(time.Hour), 30*time.Minute, courses)
		if err != nil {
			b.Fatal(err)
		}
		for i, f := range coats {
			f.Distribution(noon.Add(time.Hour), e, uint64(i))
		}
		taken += time.Since(began)
		bare += bareExponentials(cells)
	}
	b.ReportMetric(float64(taken.Milliseconds())/float64(b.N), "ms/plan")
	b.ReportMetric(float64(taken)/float64(bare), "x-bare")
}

// wander is an ensemble of rooms that drift apart from 19 °C, 52 %.
func wander(members, steps int) [][]Conditions {
	all := make([][]Conditions, members)
	r := rand.New(rand.NewPCG(7, 11))
	for i := range all {
		at, h := 19.0, 52.0
		for j := range steps {
			at += 0.95*(19+2*math.Sin(float64(j)/7.6)-at)*0.2 + 0.25*r.NormFloat64()
			h += (52-h)*0.1 + r.NormFloat64()
			all[i] = append(all[i], Conditions{
				Air: sensors.Celsius(at), Surface: sensors.Celsius(at - 0.8), Humidity: sensors.RelativeHumidity(h), SurfaceMeasured: true,
			})
		}
	}
	return all
}

// A month of readings once a minute is behind the coat; one more comes in.
func BenchmarkFollowerNext(b *testing.B) {
	coat := acrylic()
	coat.Product.Stated.Times[Cured] = 60 * day
	f := NewFollower(coat)
	for i := range 30 * 24 * 60 {
		f.add(Sample{noon.Add(time.Duration(i) * time.Minute), changing(i)})
	}
	now := noon.Add(30 * day)
	f.at(now)
	for i := 0; b.Loop(); i++ {
		now = now.Add(time.Minute)
		f.add(Sample{now, changing(i)})
		f.at(now)
	}
}
