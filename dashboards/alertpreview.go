package dashboards

import (
	"context"
	"net/http"
	"time"

	"recoat/internal/alert"
)

// Previewer says what a past night would have told by the present rules.
type Previewer interface {
	// Told returns the messages of a room's spell in order, each with when it
	// would have gone out as Changed; what was still held back at the end comes
	// last.
	Told(ctx context.Context, room string, from, to time.Time) ([]alert.Message, error)
}

// A night as it is previewed: from six in the evening to noon.
const (
	nightFrom = 18 * time.Hour
	nightTo   = 36 * time.Hour
	// nightTakes bounds what playing a night may cost.
	nightTakes = time.Minute
)

// previewView is the page that shows what a night would have told.
type previewView struct {
	Rooms  []option
	Room   string
	Night  string // 2006-01-02, the evening's date
	Newest string // the latest evening that can be asked about
	Asked  bool
	Span   string
	Told   []toldView
	Held   []heldView
	Failed string
}

func (s *server) preview(w http.ResponseWriter, r *http.Request) {
	now := s.now().In(s.words.location)
	view := previewView{Room: r.URL.Query().Get("room"), Night: r.URL.Query().Get("night"), Newest: now.Format(time.DateOnly)}
	for _, snap := range s.house.Snapshots() {
		view.Rooms = append(view.Rooms, option{snap.Room, roomTitle(snap)})
	}
	if view.Night == "" {
		view.Night = now.AddDate(0, 0, -1).Format(time.DateOnly)
		s.show(w, r, http.StatusOK, shown{"Preview", "Alerts", "preview", view})
		return
	}
	view.Asked = true
	status := s.play(r.Context(), &view, now)
	s.show(w, r, status, shown{"Preview", "Alerts", "preview", view})
}

// play fills in what the night would have told, one night at a time.
func (s *server) play(ctx context.Context, view *previewView, now time.Time) int {
	day, err := time.ParseInLocation(time.DateOnly, view.Night, s.words.location)
	if err != nil || !known(view.Rooms, view.Room) || day.After(now) {
		view.Failed = "Choose a room, and the evening on which the night began."
		return http.StatusBadRequest
	}
	if !s.playing.TryLock() {
		view.Failed = "Another night is being played. Try again in a minute."
		return http.StatusServiceUnavailable
	}
	defer s.playing.Unlock()
	ctx, cancel := context.WithTimeout(ctx, nightTakes)
	defer cancel()
	from, to := day.Add(nightFrom), day.Add(nightTo)
	if to.After(now) {
		to = now
	}
	if !from.Before(to) {
		view.Failed = "That night has not begun."
		return http.StatusBadRequest
	}
	messages, err := s.previewer.Told(ctx, view.Room, from, to)
	if err != nil {
		s.log.Error("play a past night", "room", view.Room, "err", err)
		view.Failed = "That night cannot be played. The log says why."
		return http.StatusInternalServerError
	}
	view.Span = s.words.clock(from, to) + " to " + s.words.clock(to, to)
	s.words.fill(view, messages, to)
	return http.StatusOK
}

func (w words) fill(view *previewView, messages []alert.Message, end time.Time) {
	for _, m := range onePerTelling(messages) {
		if m.Status == alert.Held {
			view.Held = append(view.Held, heldView{w.clock(m.At, end), m.Title})
			continue
		}
		view.Told = append(view.Told, toldView{At: w.clock(m.Changed, end), Why: causes[m.Cause], Title: m.Title, Severity: m.Severity.String(), Fates: []string{m.Body}})
	}
}

func known(choices []option, id string) bool {
	for _, c := range choices {
		if c.ID == id {
			return true
		}
	}
	return false
}
