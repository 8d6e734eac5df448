package dashboards

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"time"

	"recoat/internal/alert"
	"recoat/internal/room"
)

// Alerts is what was told, what waits, and the channels it goes through.
type Alerts interface {
	// Board is everything as it stands now.
	Board(ctx context.Context) (AlertBoard, error)
	// Snooze leaves an alert alone for a while. An error is shown.
	Snooze(episode string, d time.Duration) error
	// Try sends a test through one channel and says what came of it.
	Try(ctx context.Context, channel string) (alert.Trial, error)
	// Ask keeps a wish to be told; TakeBack forgets one.
	Ask(ctx context.Context, w alert.Wish) error
	TakeBack(ctx context.Context, id string) error
}

// AlertBoard is everything the page Alerts shows.
type AlertBoard struct {
	Episodes  []alert.Episode // those that stand, and lately ended ones, newest first
	Messages  []alert.Message // newest first
	Held      []alert.Message // back until quiet hours end or a silent node is heard
	QuietEnds time.Time       // zero: these are no quiet hours
	Channels  []alert.ChannelState
	Wishes    []alert.Wish
	Heartbeat *alert.Trial // nil: none is configured
	Beat      bool         // there is a heartbeat
}

func (s *server) alertRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /alerts", s.alertsPage)
	mux.HandleFunc("POST /alerts/{id}/snooze", bounded(s.snooze))
	mux.HandleFunc("POST /alerts/channels", bounded(s.tryChannel))
	mux.HandleFunc("POST /alerts/wishes", bounded(s.ask))
	mux.HandleFunc("POST /alerts/wishes/{id}/drop", bounded(s.takeBack))
	if s.previewer != nil {
		mux.HandleFunc("GET /alerts/preview", s.preview)
	}
	if s.push != nil {
		s.pushRoutes(mux)
	}
}

// bounded reads no form longer than any of ours.
func bounded(h http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		r.Body = http.MaxBytesReader(w, r.Body, maxForm)
		h(w, r)
	}
}

func (s *server) alertsPage(w http.ResponseWriter, r *http.Request) {
	board, err := s.alerts.Board(r.Context())
	if err != nil {
		s.log.Error("read the alerts", "err", err)
		s.say(w, http.StatusInternalServerError, message{"Not read", "The alerts cannot be read just now. The log says why; try again."})
		return
	}
	view := s.words.alertsView(board, s.house.Snapshots(), s.now())
	view.Preview, view.Push = s.previewer != nil, s.push != nil
	s.show(w, r, http.StatusOK, shown{"Alerts", "Alerts", "alerts", view})
}

// snoozes are how long an alert can be left alone, by the word in the form.
var snoozes = map[string]time.Duration{"1h": time.Hour, "8h": 8 * time.Hour}

func (s *server) snooze(w http.ResponseWriter, r *http.Request) {
	d, known := snoozes[r.PostFormValue("for")]
	if !known {
		s.say(w, http.StatusBadRequest, message{"Not put off", "Choose one hour or eight."})
		return
	}
	if err := s.alerts.Snooze(r.PathValue("id"), d); err != nil {
		s.say(w, http.StatusConflict, message{"Not put off", sentence(err.Error())})
		return
	}
	http.Redirect(w, r, "/alerts?noted=snoozed", http.StatusSeeOther)
}

// tryChannel sends a test, waits for what comes of it, and shows the page, which
// says it.
func (s *server) tryChannel(w http.ResponseWriter, r *http.Request) {
	trial, err := s.alerts.Try(r.Context(), r.PostFormValue("channel"))
	switch {
	case errors.Is(err, alert.ErrNoChannel):
		s.say(w, http.StatusNotFound, message{"Not tried", "No channel of that name is configured."})
	case err != nil:
		s.log.Error("try a channel", "err", err)
		s.say(w, http.StatusInternalServerError, message{"Not tried", "The log says why; try again."})
	case trial.Failed != "":
		http.Redirect(w, r, "/alerts?noted=failed#channels", http.StatusSeeOther)
	default:
		http.Redirect(w, r, "/alerts?noted=taken#channels", http.StatusSeeOther)
	}
}

// aheads are how long before the likely time somebody can be told, by the word
// in the form.
var aheads = map[string]time.Duration{"0": 0, "30m": 30 * time.Minute, "1h": time.Hour, "2h": 2 * time.Hour}

// ask takes a wish: for a coat the stage that the finisher waits for now, else
// for the room to be fit.
func (s *server) ask(w http.ResponseWriter, r *http.Request) {
	wish, found := wishOf(s.house.Snapshots(), r.PostFormValue("coat"), r.PostFormValue("room"))
	ahead, known := aheads[r.PostFormValue("ahead")]
	if !found || wish.Coat != "" && !known {
		s.say(w, http.StatusBadRequest, message{"Not asked", "There is nothing to tell of that: choose a coat that is drying, or a room."})
		return
	}
	if wish.Coat != "" {
		wish.Ahead = ahead
	}
	if err := s.alerts.Ask(r.Context(), wish); err != nil {
		if errors.Is(err, alert.ErrTooManyWishes) {
			s.say(w, http.StatusConflict, message{"Not asked", sentence(alert.ErrTooManyWishes.Error())})
			return
		}
		s.log.Error("keep a wish", "err", err)
		s.say(w, http.StatusInternalServerError, message{"Not asked", "The log says why; try again."})
		return
	}
	http.Redirect(w, r, "/alerts?noted=asked#asked", http.StatusSeeOther)
}

// wishOf is a wish for a coat or, without one, for a room.
func wishOf(snapshots []room.Snapshot, coat, in string) (alert.Wish, bool) {
	for _, snap := range snapshots {
		if coat == "" && snap.Room == in {
			return alert.Wish{Room: in}, true
		}
		for _, c := range snap.Coats {
			if coat != "" && c.ID == coat && c.Next >= 0 {
				return alert.Wish{Room: snap.Room, Coat: coat, Stage: c.Estimates[c.Next].Stage.String()}, true
			}
		}
	}
	return alert.Wish{}, false
}

func (s *server) takeBack(w http.ResponseWriter, r *http.Request) {
	if err := s.alerts.TakeBack(r.Context(), r.PathValue("id")); err != nil {
		s.log.Error("take a wish back", "err", err)
		s.say(w, http.StatusInternalServerError, message{"Not taken back", "The log says why; try again."})
		return
	}
	http.Redirect(w, r, "/alerts?noted=dropped#asked", http.StatusSeeOther)
}

// back is where a form's answer leads: to the page it was sent from, where that
// is one of two.
func back(r *http.Request, noted string) string {
	if from, err := url.Parse(r.Referer()); err == nil && from.Path == "/alerts" {
		return "/alerts?noted=" + noted
	}
	return "/?noted=" + noted
}
