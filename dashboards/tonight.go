package dashboards

import (
	"context"
	"net/http"
	"time"

	"recoat/internal/room"
)

// tonightView is the home page: a section for each room, and the forms.
type tonightView struct {
	Rooms []roomTonight
	Form  *coatForm
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
}

// coatForm offers a coat to be noted. Nothing can be noted while Parts or
// Products is empty.
type coatForm struct {
	Choices
	Failed string // why the choices could not be had
}

func (s *server) tonight(w http.ResponseWriter, r *http.Request) {
	now := s.now()
	snapshots := s.house.Snapshots()
	view := tonightView{Form: s.coatForm(r.Context())}
	for _, snap := range snapshots {
		t := s.words.roomTonight(snap, s.dueIn(r.Context(), snap, now), now)
		t.Touch = s.journal != nil
		s.offerSeen(t.Alerts)
		view.Rooms = append(view.Rooms, t)
	}
	p := s.page("Tonight", snapshots, now)
	p.Said = said[r.URL.Query().Get("noted")]
	p.Body = view
	s.render(w, http.StatusOK, "tonight", p)
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

// coatForm returns nil where there is no journal.
func (s *server) coatForm(ctx context.Context) *coatForm {
	if s.journal == nil {
		return nil
	}
	choices, err := s.journal.Choices(ctx)
	if err != nil {
		s.log.Error("list parts and products", "err", err)
		return &coatForm{Failed: "The journal cannot be read just now. The log says why."}
	}
	return &coatForm{Choices: choices}
}
