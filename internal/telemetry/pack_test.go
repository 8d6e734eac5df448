package telemetry

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/mainflux/senml"

	"recoat/sensors"
)

var (
	air     = sensors.Channel{Quantity: sensors.AirTemperature}
	rh      = sensors.Channel{Quantity: sensors.AirHumidity}
	surface = sensors.Channel{Quantity: sensors.SurfaceTemperature, Probe: "28-0316a2791b5f"}
)

const bootA, bootB = "4d1f0f3e-6c0b-4a55-9a8e-0a1d7c2b9e11", "b7c2a4d0-1f8e-4e4c-8f2b-52f0c9a1d2e3"

// roundOf is a plausible round of the node "bench".
func roundOf(boot string, seq uint64) sensors.Round {
	return sensors.Round{
		Node: "bench", Boot: boot, Seq: seq, ClockSet: true,
		Time:   time.Date(2026, 3, 1, 21, 0, 0, 0, time.UTC).Add(time.Duration(seq) * 30 * time.Second),
		Uptime: time.Duration(seq) * 30 * time.Second,
		Readings: []sensors.Reading{
			{Channel: air, Value: 14.25}, {Channel: rh, Value: 71.5}, {Channel: surface, Value: 12.125, Quality: sensors.Suspect},
		},
	}
}

func randomRound(r *rand.Rand) sensors.Round {
	round := sensors.Round{
		Node: "bench", Boot: bootA, Seq: 1 + r.Uint64N(maxSeq), ClockSet: r.IntN(4) > 0,
		Time:   time.UnixMilli(firstAbsolute*1000 + r.Int64N((lastAbsolute-firstAbsolute)*1000)).UTC(),
		Uptime: time.Duration(r.Int64N(1e12)) * time.Millisecond,
	}
	for _, q := range sensors.Quantities() {
		for p := range r.IntN(3) {
			reading := sensors.Reading{Channel: sensors.Channel{Quantity: q}, Quality: sensors.Quality(r.IntN(int(sensors.Missing) + 1))}
			if p > 0 {
				reading.Channel.Probe = fmt.Sprintf("Probe_%d.x-", p)
			}
			for reading.Quality != sensors.Missing {
				if reading.Value = q.FromSteps(q.Steps(r.Float64()*200000 - 1000)); q.Possible(reading.Value) {
					break
				}
				reading.Value = q.FromSteps(q.Steps(r.Float64() * 100))
				if q.Possible(reading.Value) {
					break
				}
			}
			round.Readings = append(round.Readings, reading)
		}
	}
	return round
}

func TestRoundsReadBackAsTheyWereWritten(t *testing.T) {
	seed := rand.Uint64()
	r := rand.New(rand.NewPCG(seed, 1))
	for range 500 {
		want := randomRound(r)
		payload, err := EncodeRound("back-room", want)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		got, err := DecodePack("back-room", "bench", payload, time.Time{})
		if err != nil {
			t.Fatalf("seed %d: %s: %v", seed, payload, err)
		}
		if diff := cmp.Diff([]sensors.Round{want}, got); diff != "" {
			t.Fatalf("seed %d: %s", seed, diff)
		}
	}
}

// The SenML library, which had no part in resolving the records, reads the
// same names, units, times and values out of a pack.
func TestPacksAreSenMLToAnotherReader(t *testing.T) {
	round := roundOf(bootA, 7)
	round.ClockSet = false
	payload, err := EncodeRound("back-room", round)
	if err != nil {
		t.Fatal(err)
	}
	pack, err := senml.Decode(payload, senml.JSON)
	if err != nil {
		t.Fatal(err)
	}
	if pack, err = senml.Normalize(pack); err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	for _, r := range pack.Records {
		got[r.Name] = flat(record{r.Name, r.Unit, r.Time, r.Value, r.StringValue, r.BoolValue})
	}
	records, err := parseRecords(payload)
	if err != nil {
		t.Fatal(err)
	}
	ours := map[string]string{}
	for _, r := range records {
		ours[r.name] = flat(r)
	}
	if diff := cmp.Diff(got, ours); diff != "" || len(ours) != 8 {
		t.Errorf("%d records: %s", len(ours), diff)
	}
	if want := "recoat/1/back-room/bench/air-temperature [Cel] @1772399010.000 v=14.25"; got["recoat/1/back-room/bench/air-temperature"] != want {
		t.Errorf("got %q, want %q", got["recoat/1/back-room/bench/air-temperature"], want)
	}
}

func TestTheFormatPageShowsWhatIsWritten(t *testing.T) {
	page, err := os.ReadFile("FORMAT.md")
	if err != nil {
		t.Fatal(err)
	}
	round := roundOf(bootA, 7)
	round.Readings = append(round.Readings, sensors.Reading{Channel: sensors.Channel{Quantity: sensors.AirPressure}, Quality: sensors.Missing})
	round.ClockSet = false
	pack, err := EncodeRound("back-room", round)
	if err != nil {
		t.Fatal(err)
	}
	receipt, err := Receipt{Boot: bootA, ClockSet: true, Spans: []Span{{1, 20}, {25, 25}}}.Encode()
	if err != nil {
		t.Fatal(err)
	}
	state := NodeState{Online: true, Boot: bootA, At: round.Time}.Encode()
	flatPage := strings.ReplaceAll(string(page), "\n ", "")
	for _, want := range [][]byte{pack, receipt, state} {
		if !strings.Contains(flatPage, string(want)) {
			t.Errorf("the page does not show %s", want)
		}
	}
}

func TestAClockThatWasNeverSetIsWrittenAsADateOfItsOwn(t *testing.T) {
	round := roundOf(bootA, 3)
	round.Time, round.ClockSet = time.Unix(90, 0), false
	payload, err := EncodeRound("back-room", round)
	if err != nil {
		t.Fatal(err)
	}
	got, err := DecodePack("back-room", "bench", payload, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	// 2^28 s is 1978-07-04 21:24:16 UTC (RFC 8428, section 4.5.3).
	if want := time.Date(1978, 7, 4, 21, 24, 16, 0, time.UTC).Add(round.Uptime); !got[0].Time.Equal(want) || got[0].ClockSet {
		t.Errorf("at %s, clock set %v: want %s and not", got[0].Time, got[0].ClockSet, want)
	}
	round.ClockSet = true
	if _, err := EncodeRound("back-room", round); err == nil {
		t.Error("a set clock at 1970 was believed")
	}
}

func TestRoundsThatCannotBeWritten(t *testing.T) {
	for name, spoil := range map[string]func(*sensors.Round){
		"no node":           func(r *sensors.Round) { r.Node = "" },
		"no boot":           func(r *sensors.Round) { r.Boot = "" },
		"a long boot":       func(r *sensors.Round) { r.Boot = strings.Repeat("a", maxBoot+1) },
		"sequence 0":        func(r *sensors.Round) { r.Seq = 0 },
		"sequence 2^53":     func(r *sensors.Round) { r.Seq = 1 << 53 },
		"an uptime below 0": func(r *sensors.Round) { r.Uptime = -time.Second },
		"the year 2300":     func(r *sensors.Round) { r.Time = r.Time.AddDate(274, 0, 0) },
		"NaN":               func(r *sensors.Round) { r.Readings[0].Value = math.NaN() },
		"infinity":          func(r *sensors.Round) { r.Readings[0].Value = math.Inf(1) },
		"101 %RH":           func(r *sensors.Round) { r.Readings[1].Value = 101 },
		"a channel twice":   func(r *sensors.Round) { r.Readings[1].Channel = air },
		"no quantity":       func(r *sensors.Round) { r.Readings[0].Channel = sensors.Channel{} },
		"no such quality":   func(r *sensors.Round) { r.Readings[0].Quality = 9 },
		"a probe with '/'":  func(r *sensors.Round) { r.Readings[2].Channel.Probe = "a/b" },
		"too many channels": func(r *sensors.Round) { r.Readings = make([]sensors.Reading, MaxChannels+1) },
	} {
		r := roundOf(bootA, 1)
		spoil(&r)
		if payload, err := EncodeRound("back-room", r); err == nil {
			t.Errorf("%s: written as %s", name, payload)
		}
	}
	if _, err := EncodeRound("Back Room", roundOf(bootA, 1)); err == nil {
		t.Error("a room of no valid name")
	}
}

func TestANodesPackIsHeldToItsForm(t *testing.T) {
	good, err := EncodeRound("back-room", roundOf(bootA, 7))
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct{ old, new, reason string }{
		"another node":        {"back-room/bench", "back-room/shelf", "begin with"},
		"another room":        {"back-room/bench", "loft/bench", "begin with"},
		"no boot":             {`"n":"boot","vs":"` + bootA + `"`, `"n":"air-speed","u":"m/s","v":0.1`, `record "boot"`},
		"a bad boot":          {bootA, "x y", "the boot is named"},
		"no sequence number":  {`{"n":"seq","v":7},`, ``, `record "seq"`},
		"sequence 0":          {`"seq","v":7`, `"seq","v":0`, "no sequence number"},
		"sequence 7.5":        {`"seq","v":7`, `"seq","v":7.5`, "no sequence number"},
		"a sequence of text":  {`"seq","v":7`, `"seq","vs":"7"`, "of this kind"},
		"no uptime":           {`{"n":"uptime","u":"s","v":210},`, ``, `record "uptime"`},
		"uptime in minutes":   {`"u":"s"`, `"u":"min"`, "no uptime"},
		"a relative time":     {`"bt":1772399010`, `"bt":-5`, "not a date"},
		"two instants":        {`"n":"seq"`, `"t":1,"n":"seq"`, "another instant"},
		"twice":               {`{"n":"seq","v":7}`, `{"n":"seq","v":7},{"n":"seq","v":7}`, "twice"},
		"the wrong unit":      {`"%RH"`, `"%"`, `want "%RH"`},
		"no unit":             {`"u":"%RH",`, ``, `want "%RH"`},
		"101 %RH":             {`71.5`, `101`, "cannot be meant"},
		"no such quantity":    {`"air-temperature"`, `"warmth"`, `"warmth"`},
		"no such quality":     {`"suspect"`, `"fair"`, `"fair"`},
		"missing, and there":  {`"suspect"`, `"missing"`, "not both"},
		"suspect, not there":  {`{"n":"surface-temperature:28-0316a2791b5f","u":"Cel","v":12.125},`, ``, "not both"},
		"a foreign name":      {`{"n":"seq"`, `{"bn":"x/","n":"seq"`, "begin with"},
		"quality as a number": {`"vs":"suspect"`, `"v":1`, "of this kind"},
	} {
		payload := strings.Replace(string(good), c.old, c.new, 1)
		if payload == string(good) {
			t.Fatalf("%s: nothing to replace in %s", name, good)
		}
		if got, err := DecodePack("back-room", "bench", []byte(payload), time.Now()); err == nil || got != nil || !strings.Contains(err.Error(), c.reason) {
			t.Errorf("%s: %v, %v: want an error with %q", name, got, err, c.reason)
		}
	}
}
