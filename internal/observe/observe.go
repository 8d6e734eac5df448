// Package observe shows a hub from outside: measurements in the OpenMetrics
// text form, whether it lives and is ready, and profiles. All of it is for this
// machine alone.
package observe

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"slices"
	"sort"
	"strconv"
	"strings"
	"sync"
	"time"

	"recoat/internal/telemetry"
	"recoat/sensors"
)

// Gauge is a number that is asked for when somebody looks.
type Gauge struct {
	Name string // recoat_…, with its unit at the end
	Help string
	Unit string // "seconds", "bytes"; empty: a bare count
	Read func(ctx context.Context) (float64, bool)
}

// Meter counts what passes through a hub. Its methods may be called from any
// goroutine.
type Meter struct {
	gauges []Gauge
	now    func() time.Time

	mu      sync.Mutex
	counts  map[series]uint64
	last    map[series]time.Time // of the last good reading; quality is good
	commits histogram
}

// series is one channel of one node, at one quality.
type series struct {
	room, node, channel string
	quality             sensors.Quality
}

// maxSeries bounds what a stranger's device could make up.
const maxSeries = 20000

// NewMeter returns a Meter that also shows gauges.
func NewMeter(now func() time.Time, gauges ...Gauge) *Meter {
	return &Meter{now: now, gauges: gauges, counts: map[series]uint64{}, last: map[series]time.Time{}, commits: newHistogram()}
}

// Delivery counts a delivery and returns it; once it is stored, the time from
// each reading to its commit is noted.
func (m *Meter) Delivery(d telemetry.Delivery) telemetry.Delivery {
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, r := range d.Rounds {
		for _, x := range r.Readings {
			m.count(series{d.Room, r.Node, x.Channel.String(), x.Quality}, r.Time)
		}
	}
	stored, rounds := d.Stored, d.Rounds
	d.Stored = func() {
		stored()
		m.committed(rounds)
	}
	return d
}

func (m *Meter) count(s series, at time.Time) {
	if _, known := m.counts[s]; !known && len(m.counts) >= maxSeries {
		return
	}
	m.counts[s]++
	if s.quality == sensors.Good && at.After(m.last[s]) {
		m.last[s] = at
	}
}

func (m *Meter) committed(rounds []sensors.Round) {
	now := m.now()
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, r := range rounds {
		if r.ClockSet {
			m.commits.observe(now.Sub(r.Time).Seconds())
		}
	}
}

// Write writes everything in the text form of OpenMetrics 1.0
// (prometheus/OpenMetrics, specification/OpenMetrics.md).
func (m *Meter) Write(ctx context.Context, w io.Writer) error {
	var b strings.Builder
	for _, g := range m.gauges {
		if v, ok := g.Read(ctx); ok {
			head(&b, g.Name, "gauge", g.Unit, g.Help)
			fmt.Fprintf(&b, "%s %s\n", g.Name, number(v))
		}
	}
	m.mu.Lock()
	m.writeReadings(&b)
	m.commits.write(&b, "recoat_reading_commit_seconds", "Time from a reading to its commit by the hub.")
	m.mu.Unlock()
	b.WriteString("# EOF\n")
	_, err := io.WriteString(w, b.String())
	return err
}

func (m *Meter) writeReadings(b *strings.Builder) {
	all := make([]series, 0, len(m.counts))
	for s := range m.counts {
		all = append(all, s)
	}
	sort.Slice(all, func(i, j int) bool {
		x, y := all[i], all[j]
		return cmp.Or(cmp.Compare(x.room, y.room), cmp.Compare(x.node, y.node), cmp.Compare(x.channel, y.channel), cmp.Compare(x.quality, y.quality)) < 0
	})
	head(b, "recoat_readings", "counter", "", "Readings that arrived, repeats with them.")
	for _, s := range all {
		fmt.Fprintf(b, "recoat_readings_total{%s,quality=\"%s\"} %d\n", s.labels(), s.quality, m.counts[s])
	}
	head(b, "recoat_last_good_timestamp_seconds", "gauge", "seconds", "When the last good reading of a channel was taken.")
	for _, s := range all {
		if at, ok := m.last[s]; ok {
			fmt.Fprintf(b, "recoat_last_good_timestamp_seconds{%s} %s\n", s.labels(), number(float64(at.UnixMilli())/1000))
		}
	}
}

func (s series) labels() string {
	return fmt.Sprintf(`room="%s",node="%s",channel="%s"`, escape(s.room), escape(s.node), escape(s.channel))
}

func head(b *strings.Builder, name, kind, unit, help string) {
	fmt.Fprintf(b, "# TYPE %s %s\n", name, kind)
	if unit != "" {
		fmt.Fprintf(b, "# UNIT %s %s\n", name, unit)
	}
	fmt.Fprintf(b, "# HELP %s %s\n", name, escape(help))
}

var escaper = strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`)

func escape(s string) string { return escaper.Replace(s) }

func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// histogram counts seconds by upper bound.
type histogram struct {
	counts []uint64 // by bound, the last one for what is above all
	sum    float64
}

// bounds are in seconds: from a quick commit to a backlog of a day.
func bounds() []float64 { return []float64{0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30, 60, 600, 3600, 86400} }

func newHistogram() histogram { return histogram{counts: make([]uint64, len(bounds())+1)} }

// observe counts a time; one below zero, of a clock that is ahead, as zero.
func (h *histogram) observe(seconds float64) {
	seconds = max(0, seconds)
	i, _ := slices.BinarySearch(bounds(), seconds)
	h.counts[i]++
	h.sum += seconds
}

func (h *histogram) write(b *strings.Builder, name, help string) {
	head(b, name, "histogram", "seconds", help)
	total := uint64(0)
	for i, n := range h.counts {
		total += n
		bound := "+Inf"
		if i < len(bounds()) {
			bound = strconv.FormatFloat(bounds()[i], 'f', -1, 64)
			if !strings.Contains(bound, ".") {
				bound += ".0" // the canonical form of the standard
			}
		}
		fmt.Fprintf(b, "%s_bucket{le=\"%s\"} %d\n", name, bound, total)
	}
	fmt.Fprintf(b, "%s_count %d\n%s_sum %s\n", name, total, name, number(h.sum))
}
