package telemetry

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/sensors"
)

func FuzzDecodePack(f *testing.F) {
	for _, pack := range []string{rfcSingle, rfcCurrent, rfcMultiple, rfcResolved, rfcTypes, rfcTwo, rfcActuator, `[{"n":"a","v":1,"x_":[[1]]}]`, `[{"bt":268435456,"bu":"%RH","bv":1e-9,"n":"a"}]`} {
		f.Add([]byte(pack))
	}
	own, err := EncodeRound("back-room", roundOf(bootA, 7))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(own)
	f.Add(bytes.Replace(own, []byte(`"v":7}`), []byte(`"v":7},{"n":"clock-set","vb":false}`), 1))
	f.Fuzz(func(t *testing.T, payload []byte) {
		rounds, err := DecodePack("back-room", "bench", payload, received)
		if err != nil {
			return
		}
		if len(rounds) == 0 || len(rounds) > MaxRecords {
			t.Fatalf("%d rounds and no error", len(rounds))
		}
		for _, r := range rounds {
			checkDecoded(t, r)
		}
	})
}

// checkDecoded holds a decoded round to what the hub relies on, and a node's
// own round to reading back after it is written again.
func checkDecoded(t *testing.T, r sensors.Round) {
	if err := checkReadings(r.Readings); err != nil || r.Node != "bench" || r.Time.UnixMilli() < firstAbsolute*1000 {
		t.Fatalf("%+v: %v", r, err)
	}
	if r.Boot == "" {
		if r.Seq != uint64(r.Time.UnixMilli()) || len(r.Readings) == 0 {
			t.Fatalf("foreign round %+v", r)
		}
		return
	}
	for i, x := range r.Readings { // values are written to their step
		r.Readings[i].Value = x.Channel.Quantity.FromSteps(x.Channel.Quantity.Steps(x.Value))
	}
	payload, err := EncodeRound("back-room", r)
	if err != nil {
		t.Fatalf("%+v does not go back: %v", r, err)
	}
	again, err := DecodePack("back-room", "bench", payload, received)
	if err != nil {
		t.Fatalf("%s: %v", payload, err)
	}
	if diff := cmp.Diff([]sensors.Round{r}, again); diff != "" {
		t.Fatal(diff)
	}
}

func FuzzNotes(f *testing.F) {
	receipt, err := Receipt{Boot: bootA, ClockSet: true, Spans: []Span{{1, 20}, {25, 25}}}.Encode()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(receipt)
	f.Add(NodeState{Online: true, Boot: bootA, At: received}.Encode())
	f.Fuzz(func(t *testing.T, payload []byte) {
		if r, err := DecodeReceipt(payload); err == nil {
			again, err := r.Encode()
			if err != nil {
				t.Fatalf("%+v: %v", r, err)
			}
			if back, err := DecodeReceipt(again); err != nil || !cmp.Equal(r, back) {
				t.Fatalf("%+v came back as %+v, %v", r, back, err)
			}
		}
		if r, err := DecodeRefusal(payload); err == nil {
			again, err := r.Encode()
			if err != nil {
				t.Fatalf("%+v: %v", r, err)
			}
			if back, err := DecodeRefusal(again); err != nil || back != r {
				t.Fatalf("%+v came back as %+v, %v", r, back, err)
			}
		}
		if s, err := DecodeState(payload); err == nil && !validBoot(s.Boot) {
			t.Fatalf("%+v", s)
		}
	})
}

func FuzzClaim(f *testing.F) {
	payload, err := Claim{Hub: "north", Instance: "n1", Since: received, Rooms: []string{"loft"}}.Encode()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(payload)
	f.Add([]byte(`{"hub":"hub","instance":"a","since":"2026-03-01T22:00:00+01:00","rooms":[]}`))
	f.Add([]byte(`{"hub":"hub","instance":"a","gone":true}`))
	f.Fuzz(func(t *testing.T, payload []byte) {
		c, err := DecodeClaim(payload)
		if err != nil {
			return
		}
		again, err := c.Encode()
		if err != nil {
			t.Fatalf("%+v: %v", c, err)
		}
		if back, err := DecodeClaim(again); err != nil || !cmp.Equal(c, back) {
			t.Fatalf("%+v came back as %+v, %v", c, back, err)
		}
	})
}

func FuzzDisplay(f *testing.F) {
	margin := 3.4
	payload, err := Display{At: received, Verdict: "caution", Margin: &margin, Next: &Next{"Linen press, doors", "dry-to-recoat", received}, Alerts: 1}.Encode()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(payload)
	f.Add([]byte(`{"at":"2026-03-01T22:03:30+01:00","verdict":"unknown","dew_margin_k":null,"next":null,"alerts":0}`))
	f.Fuzz(func(t *testing.T, payload []byte) {
		d, err := DecodeDisplay(payload)
		if err != nil {
			return
		}
		again, err := d.Encode()
		if err != nil {
			t.Fatalf("%+v: %v", d, err)
		}
		back, err := DecodeDisplay(again)
		if err != nil || back.Verdict != d.Verdict || back.Alerts != d.Alerts || (back.Next == nil) != (d.Next == nil) || !back.At.Equal(d.At.Truncate(time.Second)) {
			t.Fatalf("%+v came back as %+v, %v", d, back, err)
		}
	})
}

func FuzzTopic(f *testing.F) {
	f.Add("recoat/1/back-room/bench/readings")
	f.Add("recoat/1/+/#")
	f.Fuzz(func(t *testing.T, s string) {
		if topic, err := ParseTopic(s); err == nil && (topic.String() != s || strings.ContainsAny(s, "+#\x00")) {
			t.Fatalf("%q was read as %q", s, topic)
		}
	})
}
