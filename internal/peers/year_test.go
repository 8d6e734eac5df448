package peers

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"recoat/internal/store"
	"recoat/internal/store/sqlite"
	"recoat/sensors"
)

// The year: a round of three channels every ten seconds.
const (
	yearRounds = 365 * 8640
	batch      = 5000
	parts      = 5 // of the year, each timed by itself
)

var yearStart = time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)

// measured is the n-th round of a room with days, seasons and a sensor's noise.
func measured(n int) sensors.Round {
	day := 2 * math.Pi * float64(n) / 8640
	noise := func(k uint64) float64 {
		x := (uint64(n)*3 + k) * 0x9e3779b97f4a7c15
		x ^= x >> 29
		return float64(x%1000)/1000 - 0.5
	}
	return sensors.Round{
		Node: "bench", Boot: "b1", Seq: uint64(n + 1), ClockSet: true,
		Time: yearStart.Add(time.Duration(n) * 10 * time.Second), Uptime: time.Duration(n) * 10 * time.Second,
		Readings: []sensors.Reading{
			{Channel: sensors.Channel{Quantity: sensors.AirTemperature}, Value: 16 + 5*math.Sin(day/365) + 2*math.Sin(day) + 0.04*noise(0)},
			{Channel: sensors.Channel{Quantity: sensors.AirHumidity}, Value: 55 - 8*math.Sin(day) + 0.2*noise(1)},
			{Channel: sensors.Channel{Quantity: sensors.SurfaceTemperature}, Value: 15 + 5*math.Sin(day/365) + 2*math.Sin(day-0.4) + 0.0625*math.Round(noise(2))},
		},
	}
}

// keeper is a store that is measured.
type keeper interface {
	append(rounds []sensors.Round) error
	settle() error // all that was appended is on the disk and can be asked for
	cold() error   // forget what memory holds
	days() (int, error)
	means() (int, error)
	folder() string
	memory() int64 // bytes resident
}

// kept is a keeper with what was measured of it.
type kept struct {
	keeper
	name                   string
	append, days, means    []float64 // rounds/s, ms, ms
	bytes, memory          float64   // a round, MiB
	rawAnswer, hoursAnswer int
}

// measure takes the keepers in turn, part by part, so that what else the machine
// does strikes all of them.
func measure(t *testing.T, all []*kept) {
	t.Helper()
	for part := range parts {
		for _, k := range all {
			k.append = append(k.append, k.part(t, part))
		}
	}
	for _, k := range all {
		if err := k.settle(); err != nil {
			t.Fatalf("%s: %v", k.name, err)
		}
		k.memory = float64(k.keeper.memory()) / (1 << 20)
	}
	for range parts {
		for _, k := range all {
			k.days = append(k.days, k.timed(t, k.keeper.days, &k.rawAnswer))
			k.means = append(k.means, k.timed(t, k.keeper.means, &k.hoursAnswer))
		}
	}
	for _, k := range all {
		k.bytes = float64(size(k.folder())) / yearRounds
	}
}

// part appends a part of the year and returns the rounds/s, from readings in memory
// to readings that are durable: what a client spends on writing lines counts, as
// our packing does.
func (k *kept) part(t *testing.T, part int) float64 {
	t.Helper()
	first, last := part*yearRounds/parts, (part+1)*yearRounds/parts
	var took time.Duration
	for at := first; at < last; at += batch {
		var rounds []sensors.Round
		for n := at; n < min(last, at+batch); n++ {
			rounds = append(rounds, measured(n))
		}
		began := time.Now()
		if err := k.keeper.append(rounds); err != nil {
			t.Fatalf("%s: %v", k.name, err)
		}
		took += time.Since(began)
	}
	return float64(last-first) / took.Seconds()
}

// timed asks once from cold and returns the milliseconds it took.
func (k *kept) timed(t *testing.T, ask func() (int, error), answer *int) float64 {
	t.Helper()
	if err := k.cold(); err != nil {
		t.Fatalf("%s: %v", k.name, err)
	}
	dropCaches()
	began := time.Now()
	n, err := ask()
	if err != nil || n == 0 {
		t.Fatalf("%s: %d answers, %v", k.name, n, err)
	}
	*answer = n
	return float64(time.Since(began).Microseconds()) / 1000
}

// dropCaches empties what the kernel remembers of the disk, where it may be.
func dropCaches() { _ = os.WriteFile("/proc/sys/vm/drop_caches", []byte("3"), 0) }

func median(v []float64) (float64, [2]float64) {
	s := slices.Sorted(slices.Values(v))
	return s[len(s)/2], [2]float64{s[0], s[len(s)-1]}
}

func size(folder string) (n int64) {
	_ = filepath.Walk(folder, func(_ string, i os.FileInfo, err error) error {
		if err == nil && !i.IsDir() {
			n += i.Size()
		}
		return nil // what went away meanwhile has no size
	})
	return n
}

// The three days that are asked for, in the middle of the year.
func threeDays() (from, to time.Time) {
	from = yearStart.AddDate(0, 6, 0)
	return from, from.AddDate(0, 0, 3)
}

// own is our store.
type own struct {
	ctx  context.Context
	path string
	s    *sqlite.Store
}

func (o *own) append(rounds []sensors.Round) error { return o.s.Append(o.ctx, "attic", rounds) }
func (o *own) settle() error                       { return o.cold() } // closing writes the log back
func (o *own) folder() string                      { return filepath.Dir(o.path) }
func (o *own) memory() int64                       { return resident(os.Getpid()) } // with all of the test

func (o *own) cold() (err error) {
	if o.s != nil {
		if err := o.s.Close(); err != nil {
			return err
		}
	}
	o.s, err = sqlite.Open(o.ctx, o.path)
	return err
}

func (o *own) days() (n int, err error) {
	from, to := threeDays()
	err = o.s.Rounds(o.ctx, store.Query{Room: "attic", Node: "bench", From: from, To: to}, func(r sensors.Round) error { n += len(r.Readings); return nil })
	return n, err
}

func (o *own) means() (int, error) {
	all, err := o.s.Rollups(o.ctx, store.Series{Room: "attic", Node: "bench", Channel: sensors.Channel{Quantity: sensors.AirTemperature}}, time.Hour, yearStart, yearStart.AddDate(1, 0, 0))
	return len(all), err
}

// lines writes rounds in the line protocol, a line for each, as cheaply as can be.
func lines(rounds []sensors.Round) []byte {
	b := make([]byte, 0, 80*len(rounds))
	for _, r := range rounds {
		b = append(append(b, "room,node="...), r.Node...)
		for i, name := range []string{" air=", ",rh=", ",surface="} {
			b = strconv.AppendFloat(append(b, name...), r.Readings[i].Value, 'f', 3, 64)
		}
		b = append(strconv.AppendInt(append(b, ' '), r.Time.UnixNano(), 10), '\n')
	}
	return b
}

func post(at string, body []byte) error {
	answer, err := http.Post(at, "text/plain", bytes.NewReader(body))
	if err != nil {
		return err
	}
	defer func() { _ = answer.Body.Close() }()
	text, err := io.ReadAll(answer.Body)
	if err == nil && answer.StatusCode/100 != 2 {
		err = fmt.Errorf("%s: %s %s", at, answer.Status, text)
	}
	return err
}

// ask returns how often a mark is in the answer.
func ask(at string, q url.Values, mark string) (int, error) {
	answer, err := http.Get(at + "?" + q.Encode())
	if err != nil {
		return 0, err
	}
	defer func() { _ = answer.Body.Close() }()
	text, err := io.ReadAll(answer.Body)
	if err == nil && answer.StatusCode/100 != 2 {
		err = fmt.Errorf("%s: %s %.300s", at, answer.Status, text)
	}
	return bytes.Count(text, []byte(mark)), err
}

// written is how many points InfluxDB has written since it started, by what its
// own measurements say.
func written(at string) (int64, error) {
	answer, err := http.Get(at + "/debug/vars")
	if err != nil {
		return 0, err
	}
	defer func() { _ = answer.Body.Close() }()
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		return 0, err
	}
	_, rest, found := strings.Cut(string(text), `"pointsWrittenOK":`)
	number, _, ends := strings.Cut(rest, ",")
	if !found || !ends {
		return 0, fmt.Errorf("%s/debug/vars does not say what was written", at)
	}
	return strconv.ParseInt(number, 10, 64)
}

// counted is how many rounds InfluxDB holds.
func counted(at string) int {
	answer, err := http.Get(at + "/query?" + url.Values{"db": {"year"}, "q": {"SELECT count(air) FROM room"}}.Encode())
	if err != nil {
		return 0
	}
	defer func() { _ = answer.Body.Close() }()
	var r struct {
		Results []struct{ Series []struct{ Values [][]any } }
	}
	if err := json.NewDecoder(answer.Body).Decode(&r); err != nil || len(r.Results) == 0 || len(r.Results[0].Series) == 0 {
		return 0
	}
	n, _ := r.Results[0].Series[0].Values[0][1].(float64)
	return int(n)
}

// influx is InfluxDB 1.8.
type influx struct{ *server }

func (i influx) append(rounds []sensors.Round) error {
	return post(i.url+"/write?db=year", lines(rounds))
}
func (i influx) settle() error { return i.restart() } // what its own log holds goes to its files in its time
func (i influx) cold() error   { return i.restart() }

func (i influx) days() (int, error) {
	from, to := threeDays()
	return ask(i.url+"/query", url.Values{"db": {"year"}, "epoch": {"ms"}, "q": {fmt.Sprintf(`SELECT air, rh, surface FROM room WHERE time >= '%s' AND time < '%s'`, from.Format(time.RFC3339), to.Format(time.RFC3339))}}, "],[")
}

func (i influx) means() (int, error) {
	return ask(i.url+"/query", url.Values{"db": {"year"}, "epoch": {"ms"}, "q": {fmt.Sprintf(`SELECT mean(air) FROM room WHERE time >= '%s' AND time < '%s' GROUP BY time(1h)`, yearStart.Format(time.RFC3339), yearStart.AddDate(1, 0, 0).Format(time.RFC3339))}}, "],[")
}

// victoria is VictoriaMetrics, which takes the same lines.
type victoria struct{ *server }

func (v victoria) append(rounds []sensors.Round) error { return post(v.url+"/write", lines(rounds)) }

func (v victoria) settle() error {
	if _, err := ask(v.url+"/internal/force_flush", nil, ""); err != nil {
		return err
	}
	return v.restart()
}

func (v victoria) cold() error { return v.restart() }

func (v victoria) days() (int, error) {
	from, to := threeDays()
	return ask(v.url+"/api/v1/export", url.Values{"match[]": {`{__name__=~"room_.*"}`}, "start": {fmt.Sprint(from.Unix())}, "end": {fmt.Sprint(to.Unix())}}, ",")
}

func (v victoria) means() (int, error) {
	return ask(v.url+"/api/v1/query_range", url.Values{"query": {`avg_over_time(room_air[1h])`}, "start": {fmt.Sprint(yearStart.Add(time.Hour).Unix())}, "end": {fmt.Sprint(yearStart.AddDate(1, 0, 0).Unix())}, "step": {"1h"}, "nocache": {"1"}}, "],[")
}
