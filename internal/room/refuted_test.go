package room

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
)

// "Ready" was told, the finger found the coat wet, and what was learnt of it
// moves the time: it is told once more when it comes.
func TestACoatThatATouchTestRefutedIsToldAnew(t *testing.T) {
	w := newRoom()
	j := job(t, "c-0001", 0, "")
	w.follow(j)
	w.minutely(0, 130*time.Minute, warm(23), damp(50))
	j.Refuted, j.Learnt = 1, drying.Learnt{Factor: 2, Sigma: 0.1, Tests: 1}
	w.follow(j)
	w.minutely(130*time.Minute, 235*time.Minute, warm(23), damp(50))
	first := []string{"ready c-0001/dry-to-recoat first"}
	if diff := cmp.Diff(first, w.heard("ready")); diff != "" {
		t.Errorf("before it is ready again: %s", diff)
	}
	w.minutely(235*time.Minute, 250*time.Minute, warm(23), damp(50))
	if diff := cmp.Diff(append(first, "ready c-0001/dry-to-recoat/1 first"), w.heard("ready")); diff != "" {
		t.Error(diff)
	}
	for _, e := range w.Snapshot().Alerts {
		if e.Key.Subject == "c-0001/dry-to-recoat" {
			t.Errorf("what was refuted still stands: %+v", e)
		}
	}
}

// Half of the nights to come are too cold for the film to form: such courses
// never get there, and the page says so instead of a time that leaves them out.
func TestCoursesThatNeverGetThereLeaveTheEndOpen(t *testing.T) {
	f := &followed{Job: job(t, "c-0001", 0, "")}
	f.follower = drying.NewFollower(drying.Coat{Product: f.Product, Applied: f.Applied})
	warmth := drying.Conditions{Air: 23, Humidity: 50, Surface: 23, SurfaceMeasured: true}
	cold := drying.Conditions{Air: 4, Humidity: 50, Surface: 4, SurfaceMeasured: true}
	for name, c := range map[string]struct {
		never  int
		likely bool
	}{"one in five": {4, true}, "most": {16, false}} {
		members := make([][]drying.Conditions, 20)
		for m := range members {
			members[m] = make([]drying.Conditions, 96)
			for s := range members[m] {
				members[m][s] = warmth
				if m < c.never {
					members[m][s] = cold
				}
			}
		}
		ensemble, err := drying.NewEnsemble(evening, 30*time.Minute, members)
		if err != nil {
			t.Fatal(err)
		}
		f.estimates = f.follower.Estimates(evening, nil)
		f.expect(evening, &history{}, &sky{ensemble: ensemble})
		e, _ := find(f.estimates, drying.DryToRecoat)
		if e.Likely.IsZero() == c.likely || e.High.IsZero() == c.likely || len(e.Blocked) == 0 || e.Blocked[len(e.Blocked)-1].Code != "never" {
			t.Errorf("%s: %+v", name, e)
		}
	}
}

// A round that comes again changes nothing, so nothing is reckoned anew.
func TestARoundThatComesAgainChangesNothing(t *testing.T) {
	var h history
	r := ours("bench", time.Minute, warm(20), damp(50), surfaceAt("p1", 18))
	if changed, fresh := h.add(r); !changed || !fresh {
		t.Error("the first time it changes nothing")
	}
	if changed, fresh := h.add(r); changed || fresh {
		t.Error("the second time it changes something")
	}
	r.Readings[2].Value = 17
	r.Time = r.Time.Add(time.Second)
	if changed, fresh := h.add(r); !changed || fresh {
		t.Error("another surface changes nothing")
	}
}
