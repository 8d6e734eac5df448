package dashboards

import (
	"context"
	"net/http"
	"time"

	"recoat/internal/alert"
	"recoat/internal/room"
	"recoat/internal/shop"
)

// tonightView is the home page: a section for each room.
type tonightView struct {
	First *firstView // how far a new shop is; nil: it is none
	Rooms []roomTonight
	Own   []alertView     // that stand and are of no room: store, disk, ways to the phone
	Rags  []shop.Reminder // whose rags nobody has ticked
}

// roomTonight is one room on the home page.
type roomTonight struct {
	ID       string
	Title    string
	Day      string
	Verdict  verdictView
	Silences []string
	Alerts   []alertView
	Strip    stripView
	Steps    []step
	Cautions []cautionView
	Touch    bool // touch tests can be taken down
	Bench    []offer
	Failed   string // why the bench could not be read
}

// tonight answers all who ask for the plain page at the same time with one
// rendering: a change wakes every phone at once.
func (s *server) tonight(w http.ResponseWriter, r *http.Request) {
	ctx := r.Context()
	if r.URL.RawQuery != "" {
		p := s.tonightPage(ctx)
		p.told(r)
		s.render(w, http.StatusOK, "tonight", p)
		return
	}
	ctx = context.WithoutCancel(ctx) // others may wait for it
	s.write(w, http.StatusOK, s.home.get(func() rendered {
		body := s.rendered("tonight", s.tonightPage(ctx))
		body.zipped = zip(body.plain)
		return body
	}))
}

func (s *server) tonightPage(ctx context.Context) page {
	now := s.now()
	snapshots := s.house.Snapshots()
	view := tonightView{First: s.firstSteps(ctx, snapshots), Rags: s.rags(ctx), Own: s.ownAlerts(ctx, now)}
	for _, snap := range snapshots {
		t := s.words.roomTonight(snap, s.dueIn(ctx, snap, now), now)
		s.bench(ctx, &t, now)
		s.offerSeen(t.Alerts)
		view.Rooms = append(view.Rooms, t)
	}
	p := s.page("Tonight", snapshots, now)
	p.Journal = s.newest(ctx)
	p.Body = view
	return p
}

func (w words) roomTonight(s room.Snapshot, all []due, now time.Time) roomTonight {
	steps := w.nextSteps(s, all, now)
	verdict := w.verdict(s, now)
	if len(steps) > 0 && !steps[0].later {
		verdict.Next = &steps[0]
	}
	return roomTonight{
		ID:       s.Room,
		Title:    roomTitle(s),
		Day:      now.In(w.location).Format(w.form("Monday 15:04")),
		Verdict:  verdict,
		Silences: w.silences(s, now),
		Alerts:   w.alerts(s.Alerts, now),
		Strip:    w.strip(s, all, now),
		Steps:    steps,
		Cautions: cautions(s.Coats),
	}
}

// bench adds what can be done next in a room, with the taps that note it.
func (s *server) bench(ctx context.Context, t *roomTonight, now time.Time) {
	if s.book.Products == nil {
		return
	}
	t.Touch = true
	var err error
	if t.Bench, err = s.offers(ctx, t.ID, now); err != nil {
		s.log.Error("read what is on the bench", "err", err)
		t.Failed = "The journal cannot be read just now. The log says why."
	}
}

// ownAlerts are those that stand and are of no room, so that no room's section
// shows them.
func (s *server) ownAlerts(ctx context.Context, now time.Time) []alertView {
	if s.alerts == nil {
		return nil
	}
	board, err := s.alerts.Board(ctx)
	if err != nil {
		s.log.Error("read the alerts", "err", err)
		return nil
	}
	var own []alert.Episode
	for _, e := range board.Episodes {
		if e.Key.Room == "" {
			own = append(own, e)
		}
	}
	return s.words.alerts(own, now)
}

// rags are the reminders that nobody has ticked.
func (s *server) rags(ctx context.Context) []shop.Reminder {
	if s.book.Reminders == nil {
		return nil
	}
	all, err := s.book.Reminders.OpenReminders(ctx)
	if err != nil {
		s.log.Error("read the reminders", "err", err)
	}
	return all
}
