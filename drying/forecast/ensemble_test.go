package forecast

import (
	"math"
	"slices"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"

	"recoat/drying"
)

func TestMembersAreRooms(t *testing.T) {
	f := New(simulated(t, "garage", 3, 8*day))
	at := monday.Add(7*day + 20*time.Minute)
	e := mustIssue(t, f, at, Options{Members: 100})
	if !e.At.Equal(monday.Add(7*day)) || e.Members() != 100 || e.Steps() != 96 {
		t.Fatalf("at %v, %d members, %d steps", e.At, e.Members(), e.Steps())
	}
	courses := e.Courses()
	for m := range e.Members() {
		look := e.Outlook(m)
		for s := range e.Steps() {
			c := e.Conditions(m, s)
			if err := c.Check(); err != nil || !c.SurfaceMeasured || courses[m][s] != c {
				t.Fatalf("member %d, step %d: %+v, %v", m, s, c, err)
			}
			if got, ok := look(e.At.Add(time.Duration(s)*Step + 10*time.Minute)); !ok || got != c {
				t.Fatalf("member %d, step %d: the outlook says %+v, %v", m, s, got, ok)
			}
		}
		for _, beyond := range []time.Duration{-time.Second, Horizon} {
			if _, ok := look(e.At.Add(beyond)); ok {
				t.Fatalf("the outlook knows what is %v ahead", beyond)
			}
		}
	}
}

func TestQuantile(t *testing.T) {
	t.Parallel()
	e := mustIssue(t, New(made(5*day, swinging)), monday.Add(5*day), Options{Members: 200})
	for q := range Quantity(quantityCount) {
		for lead := Step; lead <= Horizon; lead += 3 * Step {
			last := math.Inf(-1)
			for _, p := range []float64{0, 0.1, 0.5, 0.9, 1} {
				v := mustQuantile(t, e, q, lead, p)
				below, upTo := 0.0, 0.0 // shares of the members; at the ends some are alike
				for m := range e.Members() {
					if member := float64(e.Value(q, m, int(lead/Step)-1)); member < v {
						below += 1. / 200
						upTo += 1. / 200
					} else if member == v {
						upTo += 1. / 200
					}
				}
				if v < last || below > p+0.01 || upTo < p-0.01 {
					t.Fatalf("%s at %v: %v of the members are below the quantile %v, %v, and %v up to it", q, lead, below, p, v, upTo)
				}
				last = v
			}
		}
	}
	for _, c := range []struct {
		q    Quantity
		lead time.Duration
		p    float64
	}{{Air, 0, 0.5}, {Air, Horizon + 1, 0.5}, {Air, Step, 1.1}, {Air, Step, math.NaN()}, {3, Step, 0.5}} {
		if _, ok := e.Quantile(c.q, c.lead, c.p); ok {
			t.Errorf("%v has a quantile", c)
		}
	}
}

// A member is a course, not a cloud of points: what is above the middle now is
// so an hour later, air and surface go together, and a night on most is
// forgotten.
func TestMembersAreWholeTrajectories(t *testing.T) {
	t.Parallel()
	f := New(simulated(t, "stove-shop", 9, 16*day))
	e := mustIssue(t, f, monday.Add(15*day+20*time.Hour), Options{Members: 400})
	ranks := func(q Quantity, step int) []float64 {
		order := make([]int, e.Members())
		for m := range order {
			order[m] = m
		}
		slices.SortFunc(order, func(a, b int) int {
			if e.values[q][a][step] < e.values[q][b][step] {
				return -1
			}
			return 1
		})
		all := make([]float64, e.Members())
		for rank, m := range order {
			all[m] = float64(rank)
		}
		return all
	}
	for _, c := range []struct {
		a, b        Quantity
		from, to    int
		least, most float64
	}{
		{Air, Air, 20, 22, 0.75, 1},
		{Surface, Surface, 20, 22, 0.75, 1},
		{Air, Surface, 20, 20, 0.75, 1},
		{Air, Air, 2, 90, -0.6, 0.6},
	} {
		if got := stat.Correlation(ranks(c.a, c.from), ranks(c.b, c.to), nil); got < c.least || got > c.most {
			t.Errorf("%s at step %d and %s at %d: rank correlation %.2f, want %v to %v", c.a, c.from, c.b, c.to, got, c.least, c.most)
		}
	}
}

// Without a probe the surface is the air, in every member.
func TestSurfaceWithoutAProbe(t *testing.T) {
	samples := made(5*day, swinging)
	for i := range samples {
		samples[i].Surface, samples[i].SurfaceMeasured = samples[i].Air, false
	}
	e := mustIssue(t, New(samples), monday.Add(5*day), Options{Members: 60})
	for m := range e.Members() {
		for s := range e.Steps() {
			if c := e.Conditions(m, s); c.SurfaceMeasured || math.Abs(float64(c.Surface-c.Air)) > 1e-9 {
				t.Fatalf("member %d, step %d: %+v", m, s, c)
			}
		}
	}
}

// The drying model takes the members as they are.
func TestTheModelFollowsMembers(t *testing.T) {
	p, err := drying.Product{Name: "Slow clear", Family: drying.Waterborne, Stated: drying.Stated{
		Air: 20, Humidity: 50, Times: [drying.StageCount]time.Duration{drying.DryToRecoat: 6 * time.Hour},
	}}.Complete()
	if err != nil {
		t.Fatal(err)
	}
	e := mustIssue(t, New(simulated(t, "back-room", 2, 6*day)), monday.Add(6*day), Options{Members: 10})
	for m := range e.Members() {
		got := drying.Follow(drying.Coat{Product: p, Applied: e.At}, nil, e.At, e.Outlook(m))[drying.DryToRecoat]
		if ready := got.Likely.Sub(e.At); ready < 3*time.Hour || ready > 20*time.Hour {
			t.Errorf("member %d: dry to recoat after %v", m, ready)
		}
	}
}
