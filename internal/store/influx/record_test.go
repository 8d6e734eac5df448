package influx

import (
	"errors"
	"strings"
	"testing"
	"time"

	"recoat/internal/store"
	"recoat/sensors"
)

func FuzzDecode(f *testing.F) {
	f.Add("1 7 90000 1 air-temperature=20500 relative-humidity=5000,suspect surface-temperature:28-00000a=0,missing")
	f.Add("1 0 0 0")
	f.Add("2 7 90000 1")
	f.Add("1 18446744073709551615 -1 2 co2=99999999999999999999")
	f.Fuzz(func(t *testing.T, data string) {
		r := sensors.Round{Node: "bench", Boot: "b1", Time: dusk}
		err := decode(&r, data)
		if err != nil {
			if !errors.Is(err, store.ErrDamaged) {
				t.Fatalf("not said to be damaged: %v", err)
			}
			return
		}
		again := sensors.Round{Node: "bench", Boot: "b1", Time: dusk}
		if err := decode(&again, encode(r)); err != nil || encode(again) != encode(r) {
			t.Fatalf("%q came back as %q, %v", encode(r), encode(again), err)
		}
	})
}

func FuzzDecodeTally(f *testing.F) {
	f.Add("1 2 3 -4 5 6")
	f.Add("1 2 3 4")
	f.Fuzz(func(t *testing.T, data string) {
		if x, err := decodeTally(data); err == nil && encodeTally(x) != data {
			t.Fatalf("%q was read as %+v", data, x)
		}
	})
}

// A name can say nothing in Flux and nothing in the line protocol, whatever it
// is made of.
func FuzzNames(f *testing.F) {
	for _, n := range []string{"bench", `a" or true) |> drop(`, "${r._value}", "a\\", "ä b=c,d\n", "%"} {
		f.Add(n)
	}
	f.Fuzz(func(t *testing.T, name string) {
		tag := escape(name)
		if strings.ContainsAny(tag, "\\\"${} ,=\n\r\t'") {
			t.Fatalf("%q is written %q", name, tag)
		}
		if back, err := unescape(tag); err != nil || back != name {
			t.Fatalf("%q came back as %q, %v", name, back, err)
		}
	})
}

func TestAQuestionQuotesWhatItIsMadeOf(t *testing.T) {
	a := ask{
		bucket: `shop"${x}\`, measurement: roundName, from: dusk, to: dusk.Add(time.Second),
		tags: []tag{{"room", escape(`x" or true`)}}, keep: []string{"node"}, tail: inOrder,
	}
	want := `from(bucket: "shop\"\${x}\\") |> range(start: 2031-02-03T18:00:00.000000000Z, stop: 2031-02-03T18:00:01.000000000Z)` +
		` |> filter(fn: (r) => r._measurement == "round" and r._field == "data" and r["room"] == "x%22+or+true")` +
		` |> keep(columns: ["_time", "_value", "node"]) |> group() |> sort(columns: ["_time"])`
	if got := a.String(); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}
