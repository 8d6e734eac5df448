package telemetry

import (
	"bytes"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/google/go-cmp/cmp"
)

// A round that the hub will never have is sent no more, holds up no other, and is
// not lost.
func TestARefusedRoundIsSetAside(t *testing.T) {
	t.Parallel()
	at, _ := startBroker(t)
	path := filepath.Join(t.TempDir(), "spool.db")
	s := openSpool(t, path, bootA, 1<<20)
	for seq := range uint64(5) {
		appendRounds(t, s, roundOf(bootA, seq+1))
	}
	refusing := startHubWith(t, at, func(d Delivery) {
		if d.Rounds[0].Seq == 3 {
			d.Refused("the store knows no such quantity")
			return
		}
		d.Stored()
	})
	courier, stop := startCourier(t, at, s, 100*time.Millisecond)
	until(t, "the rest is let go, the third set aside", func() bool { st := stats(t, s); return st.Pending == 0 && st.Aside == 1 })
	time.Sleep(500 * time.Millisecond) // five times as long as an acknowledgement may take
	if n := refusing.count(3); n > 2 {
		t.Errorf("the refused round came %d times", n)
	}
	if courier.Stats().Refused == 0 {
		t.Error("the refusal is not counted")
	}
	stop()
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	again := openSpool(t, path, bootA, 1<<20)
	if got := sequence(pending(t, again)); !slices.Equal(got, []uint64{3}) {
		t.Errorf("after a restart %v wait, want the third to be tried once more", got)
	}
}

// What cannot even be read is refused too, where it says which round it is.
func TestAPackOfAnotherVersionIsRefusedToItsNode(t *testing.T) {
	t.Parallel()
	at, _ := startBroker(t)
	startHub(t, at, true)
	node, err := client(t, at, "node", "agent", "birch", nil)
	if err != nil {
		t.Fatal(err)
	}
	heard := make(chan []byte, 16)
	topic := Topic{"back-room", "bench", Refused}.String()
	if token := node.Subscribe(topic, 1, func(_ mqtt.Client, m mqtt.Message) { heard <- m.Payload() }); !token.WaitTimeout(patience) || token.Error() != nil {
		t.Fatal(token.Error())
	}
	good, err := EncodeRound("back-room", roundOf(bootA, 7))
	if err != nil {
		t.Fatal(err)
	}
	odd := bytes.Replace(good, []byte("air-temperature"), []byte("sap-temperature"), 1)
	if bytes.Equal(good, odd) {
		t.Fatal("nothing was changed")
	}
	for {
		node.Publish(Topic{"back-room", "bench", Readings}.String(), 1, false, odd)
		select {
		case payload := <-heard:
			r, err := DecodeRefusal(payload)
			if err != nil || r.Boot != bootA || r.Seq != 7 || !r.ClockSet || !strings.Contains(r.Why, "sap-temperature") {
				t.Errorf("%+v, %v", r, err)
			}
			return
		case <-time.After(200 * time.Millisecond): // the hub may not listen yet
		}
	}
}

func TestRefusalsAreStrict(t *testing.T) {
	want := Refusal{Boot: bootA, Seq: 7, ClockSet: true, Why: "no such quantity"}
	payload, err := want.Encode()
	if err != nil {
		t.Fatal(err)
	}
	if got, err := DecodeRefusal(payload); err != nil || got != want {
		t.Errorf("%+v, %v", got, err)
	}
	for _, c := range [][2]string{{`"seq":7`, `"seq":0`}, {`"seq":7`, `"seq":-1`}, {bootA, "a/b"}, {`"why"`, `"what"`}, {`}`, `} {}`}} {
		bad := strings.Replace(string(payload), c[0], c[1], 1)
		if r, err := DecodeRefusal([]byte(bad)); err == nil {
			t.Errorf("%s is read as %+v", bad, r)
		}
	}
	for _, odd := range []string{`[]`, `{`, `[{"n":"a","v":1}]`, `[{"bn":"recoat/1/back-room/bench/","n":"boot","vs":"b"}]`} {
		if r, known := identify("back-room", "bench", []byte(odd)); known {
			t.Errorf("%s is round %+v", odd, r)
		}
	}
}

// A full spool lets go of what the hub has before what it refused, and of that
// before what it has never had.
func TestAFullSpoolLetsGoOfRefusedRoundsBeforeOthers(t *testing.T) {
	s := openSpool(t, filepath.Join(t.TempDir(), "spool.db"), bootA, minSpool)
	appendRounds(t, s, roundOf(bootA, 1), roundOf(bootA, 2), roundOf(bootA, 3))
	if err := s.Refuse(t.Context(), Refusal{Boot: bootA, Seq: 3, ClockSet: true}); err != nil {
		t.Fatal(err)
	}
	for seq := uint64(4); stats(t, s).Dropped == 0; seq++ {
		appendRounds(t, s, roundOf(bootA, seq))
	}
	if st := stats(t, s); st.Aside != 0 || st.Dropped != 1 {
		t.Errorf("%+v", st)
	}
	if diff := cmp.Diff([]uint64{1, 2}, sequence(pending(t, s))[:2]); diff != "" {
		t.Error(diff)
	}
}
