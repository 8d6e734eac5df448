package forecast

import (
	"math"
	"testing"
	"time"

	"recoat/drying"
)

// heldRooms are simulated rooms by seeds that no default was chosen on.
func heldRooms() map[string]uint64 {
	return map[string]uint64{"back-room": 21, "stove-shop": 21, "garage": 21}
}

const threeWeeks = 21 * day

// most is how large the loss may be against the better naive forecast, the
// mean over air and dew point.
var most = map[time.Duration]float64{6 * time.Hour: 0.77, 12 * time.Hour: 0.85, 24 * time.Hour: 0.95}

// everyHour is between forecasts: no divisor of a day, so that in the end they
// are made at each of its half hours.
const everyHour = 5 * Step

// Three weeks of one room hold some twenty independent days, after which even
// a perfect interval of 80 % will have held 70 to 90 times in a hundred; so the
// rooms are judged together. FORECAST.md has them one by one.
func TestForecastsRooms(t *testing.T) {
	t.Parallel()
	var reports []Report
	for preset, seed := range heldRooms() {
		reports = append(reports, mustRun(t, Backtest{Every: everyHour, Members: 50}, simulated(t, preset, seed, threeWeeks)))
	}
	checkRooms(t, reports)
}

func TestForecastsOffice(t *testing.T) {
	t.Parallel()
	checkRooms(t, []Report{mustRun(t, Backtest{Members: 50}, office(t))})
}

func checkRooms(t *testing.T, reports []Report) {
	t.Helper()
	rooms := float64(len(reports))
	for k, lead := range ScoredLeads() {
		limit, ok := most[lead]
		if !ok {
			continue
		}
		ratio, held := 0.0, [quantityCount]float64{}
		for _, r := range reports {
			l := r.Leads[k]
			ratio += (l.Air.Ratio() + l.DewPoint.Ratio()) / 2 / rooms
			for q, s := range []Score{l.Air, l.DewPoint, l.Surface} {
				held[q] += s.Forecast.Coverage / rooms
			}
		}
		if !(ratio <= limit) {
			t.Errorf("%v: the loss is %.3f of the better naive forecast's: %v at most", lead, ratio, limit)
		}
		for q, share := range held {
			if probed := reports[0].Surface || Quantity(q) != Surface; probed && !(math.Abs(share-interval) <= 0.05) {
				t.Errorf("%v, %s: the interval held %.1f times in a hundred: 75 to 85 were promised", lead, Quantity(q), 100*share)
			}
		}
	}
}

// Coats that go on at any hour are ready within the interval eight times in
// ten, and better forecast than by either naive forecast.
func TestForecastsReadyTimes(t *testing.T) {
	t.Parallel()
	samples := simulated(t, "stove-shop", 21, threeWeeks-4*day)
	r := mustRun(t, Backtest{Every: 2 * everyHour, Members: 60, Product: slowClear(t)}, samples)
	if s := *r.Ready; s.Count < 100 || s.Ratio() > 0.9 || math.Abs(s.Forecast.Coverage-interval) > 0.05 {
		t.Errorf("%d stages: %.3f of the naive loss, the interval held %.3f", s.Count, s.Ratio(), s.Forecast.Coverage)
	}
}

func BenchmarkIssue(b *testing.B) {
	f := New(simulated(b, "stove-shop", 21, threeWeeks))
	at := monday.Add(threeWeeks)
	mustIssue(b, f, at, Options{})
	for b.Loop() {
		mustIssue(b, f, at, Options{})
	}
}

// BenchmarkNew is what the first forecast from three weeks of history takes.
func BenchmarkNew(b *testing.B) {
	samples := simulated(b, "stove-shop", 21, threeWeeks)
	for b.Loop() {
		mustIssue(b, New(samples), monday.Add(threeWeeks), Options{})
	}
}

// BenchmarkRooms prints the figures of FORECAST.md.
func BenchmarkRooms(b *testing.B) {
	for preset, seed := range heldRooms() {
		b.Run(preset, func(b *testing.B) { benchmarkRoom(b, simulated(b, preset, seed, threeWeeks)) })
	}
	b.Run("office", func(b *testing.B) { benchmarkRoom(b, office(b)) })
}

func benchmarkRoom(b *testing.B, samples []drying.Sample) {
	for b.Loop() {
		r := mustRun(b, Backtest{Product: slowClear(b), Every: everyHour}, samples)
		for _, l := range r.Leads {
			lead := l.Lead.String()
			b.ReportMetric((l.Air.Ratio()+l.DewPoint.Ratio())/2, "ratio@"+lead)
			b.ReportMetric(l.Air.Forecast.Coverage, "air-held@"+lead)
			b.ReportMetric(l.DewPoint.Forecast.Coverage, "dew-held@"+lead)
			if r.Surface {
				b.ReportMetric(l.Surface.Forecast.Coverage, "surface-held@"+lead)
			}
		}
		b.ReportMetric(r.Ready.Forecast.Coverage, "ready-held")
		b.ReportMetric(r.Ready.Ratio(), "ready-ratio")
	}
}
