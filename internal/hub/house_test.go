package hub

import (
	"context"
	"errors"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"recoat/internal/alert"
	"recoat/internal/shop"
)

// houseTold lists what was told of the hub itself.
func (b *bench) houseTold() []string {
	b.Helper()
	var all []string
	for _, told := range b.told() {
		for _, rule := range []string{"store ", "disk ", "channel ", "self-test ", "all-well "} {
			if strings.HasPrefix(told, rule) {
				all = append(all, told)
			}
		}
	}
	return all
}

func TestAStoreThatFailsIsToldOfAndItsReturn(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.readings.set(true)
		b.deliver("back-room", round(1, 20, 50))
		time.Sleep(5 * time.Minute)
		if got := b.houseTold(); len(got) != 1 || got[0] != "store  first" {
			b.Errorf("while it fails: %v", got)
		}
		if err := b.hub.Alive(b.Context()); err == nil {
			b.Error("a hub that stores nothing is well")
		}
		b.readings.set(false)
		time.Sleep(10 * time.Minute)
		if got := b.houseTold(); len(got) != 2 || got[1] != "store  cleared" {
			b.Errorf("once it is back: %v", got)
		}
		if err := b.hub.Alive(b.Context()); err != nil {
			b.Error(err)
		}
	})
}

func TestADiskNearlyFullAndTheDailyMessage(t *testing.T) {
	free := uint64(50)
	inBubble(t, func(b *bench) {
		b.stop()
		b.watch = Watch{
			Disk:    func() (uint64, uint64, error) { return free, 100, nil },
			AllWell: &Daily{At: 19 * time.Hour}, SelfTest: &Weekly{Day: evening.Weekday(), At: 20 * time.Hour},
		}
		b.start()
		time.Sleep(90 * time.Minute) // 19:30
		free = 3
		time.Sleep(time.Hour) // 20:30
		free = 60
		time.Sleep(time.Minute)
		day := func(h int) string {
			return strconv.FormatInt(evening.Truncate(24*time.Hour).Add(time.Duration(h)*time.Hour).Unix(), 10)
		}
		want := []string{"all-well " + day(19) + " first", "disk  first", "self-test " + day(20) + " first", "disk  cleared"}
		if got := strings.Join(b.houseTold(), ", "); got != strings.Join(want, ", ") {
			b.Errorf("told: %s", got)
		}
	})
}

func TestAFailingChannelIsSeenAndSnoozed(t *testing.T) {
	inBubble(t, func(b *bench) {
		now := time.Now()
		e := alert.Episode{ID: "x", Key: alert.Key{Rule: "unfit", Room: "back-room"}, State: alert.Raised, Severity: alert.Warning, Since: now, RaisedAt: now, Told: 1}
		tr := []alert.Transition{{Episode: e, Cause: alert.First, Title: "t", At: now}}
		if err := b.decisions.Commit(b.Context(), tr, alert.Compose(tr, []string{"phone"})); err != nil {
			b.Fatal(err)
		}
		m := b.newest()
		if err := errors.Join(b.decisions.Begin(b.Context(), m.ID, now), b.decisions.Retry(b.Context(), m.ID, now, time.Hour, "answered 500")); err != nil {
			b.Fatal(err)
		}
		time.Sleep(15 * time.Minute)
		episodes, err := b.decisions.Episodes(b.Context(), 10)
		if err != nil {
			b.Fatal(err)
		}
		var failing alert.Episode
		for _, e := range episodes {
			if e.Key.Rule == "channel" {
				failing = e
			}
		}
		if failing.State != alert.Raised || failing.Key.Subject != "phone" || failing.Key.Room != "" {
			b.Fatalf("%+v", episodes)
		}
		if err := b.hub.Snooze(failing.ID, time.Hour); err != nil {
			b.Error(err)
		}
		if err := b.hub.Snooze("nobody", time.Hour); !errors.Is(err, ErrNotStanding) {
			b.Error(err)
		}
		if err := b.hub.Snooze(failing.ID, 48*time.Hour); err == nil {
			b.Error("snoozed for two days")
		}
	})
}

func (b *bench) newest() alert.Message {
	b.Helper()
	all, err := b.decisions.Messages(context.Background(), 1)
	if err != nil || len(all) != 1 {
		b.Fatalf("%v, %v", all, err)
	}
	return all[0]
}

func TestAWishReachesItsRoomAndIsGranted(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.furnish()
		synctest.Wait()
		if err := b.decisions.AddWish(b.Context(), alert.Wish{ID: "w1", Room: "back-room", Made: time.Now()}); err != nil {
			b.Fatal(err)
		}
		b.minutes(40, 1, 20, 50)
		if got := strings.Join(b.told(), ", "); got != "fit-again w1 first" {
			b.Errorf("told: %s", got)
		}
		if left, err := b.decisions.Wishes(b.Context()); err != nil || len(left) != 0 {
			b.Errorf("%v, %v", left, err)
		}
	})
}

// What a night told when it was played live is what its preview says.
func TestAPastNightIsPlayedAsItWas(t *testing.T) {
	inBubble(t, func(b *bench) {
		top, _ := b.furnish()
		b.apply(top, 0)
		began := time.Now()
		b.minutes(30, 1, 20, 50)
		b.minutes(30, 31, 20, 95)
		b.minutes(40, 61, 23, 50)
		past := Past{Readings: b.readings, Journal: b.journal.Journal, Route: alert.RouterConfig{Channels: []string{"phone"}, Zone: time.UTC}}
		got, err := past.Told(b.Context(), "back-room", began.Add(-time.Hour), time.Now())
		if err != nil {
			b.Fatal(err)
		}
		var played []string
		for _, m := range got {
			played = append(played, m.Key.Rule+" "+m.Key.Subject+" "+m.Cause.String())
		}
		if live := strings.Join(b.told(), ", "); live == "" || strings.Join(played, ", ") != live {
			b.Errorf("live: %s\nplayed: %s", live, strings.Join(played, ", "))
		}
		if _, err := past.Told(b.Context(), "back-room", began, began.Add(72*time.Hour)); err == nil {
			b.Error("three days were played")
		}
	})
}

func TestHandsDoWhatALinkAsks(t *testing.T) {
	inBubble(t, func(b *bench) {
		top, _ := b.furnish()
		c := b.apply(top, 10*time.Minute)
		hands := NewHands(b.hub, b.journal.Journal)
		coat := alert.Link{Action: alert.ActionCoat, Subject: c.ID}
		if got := hands.Describe(b.Context(), coat); got != "Coat on now: Hall table, top, Fuller Street test coat" {
			b.Errorf("%q", got)
		}
		if got := hands.Describe(b.Context(), alert.Link{Action: alert.ActionTouch, Subject: c.ID + " dry"}); got != "Touch test, dry: Hall table, top" {
			b.Errorf("%q", got)
		}
		if err := errors.Join(hands.Touch(b.Context(), c.ID, "dry", time.Now()), hands.Coat(b.Context(), c.ID, time.Now())); err != nil {
			b.Fatal(err)
		}
		coats, err := b.journal.Coats(b.Context(), shop.CoatFilter{Part: top})
		if err != nil || len(coats) != 2 || coats[1].Product.ID != c.Product.ID {
			b.Errorf("%v, %v", coats, err)
		}
		if err := hands.Acknowledge("nobody"); !errors.Is(err, ErrNotStanding) {
			b.Error(err)
		}
	})
}
