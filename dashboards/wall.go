package dashboards

import (
	"cmp"
	"net/http"
	"slices"
	"sort"
	"time"

	"recoat/drying"
	"recoat/internal/room"
)

// wallView is one room on the shop's wall: few words, large.
type wallView struct {
	ID     string
	Title  string
	Clock  string
	Dim    bool
	State  string
	Head   string // "Fit until 00:45"
	Why    string
	Margin num // empty where none is known
	Until  num // the time in Head
	Read   time.Time
	Age    string
	Rows   []wallRow
	More   int // coats that found no place
	Others []wallOther
}

// wallRow is one coat. Its time leads to where it comes from, on Tonight.
type wallRow struct{ When, From, What, Span string }

type wallOther struct{ ID, Title, State string }

// mostOnWall is how many coats can be read at four metres on a tablet.
const mostOnWall = 3

// The hours in which the wall is dimmed: a lit page keeps nobody awake.
const (
	wallDims   = 21
	wallWakens = 6
)

func (s *server) wall(w http.ResponseWriter, r *http.Request) {
	now := s.now()
	snapshots := s.house.Snapshots()
	snap, ok := find(snapshots, r.PathValue("id"))
	if r.PathValue("id") == "" && len(snapshots) > 0 {
		snap, ok = snapshots[0], true
	}
	if !ok {
		s.say(w, http.StatusNotFound, message{"No such room", "No room is called that. Tonight leads to every room."})
		return
	}
	view := s.words.wall(snap, now)
	for _, o := range snapshots {
		if o.Room != snap.Room {
			view.Others = append(view.Others, wallOther{o.Room, roomTitle(o), o.Verdict.State.String()})
		}
	}
	p := s.page("Shop wall", snapshots, now)
	p.Bare, p.Body = true, view
	s.render(w, http.StatusOK, "wall", p)
}

func (w words) wall(s room.Snapshot, now time.Time) wallView {
	hour := now.In(w.location).Hour()
	v := wallView{
		ID: s.Room, Title: roomTitle(s), Clock: w.clock(now, now), Dim: hour >= wallDims || hour < wallWakens,
		State: s.Verdict.State.String(), Head: w.wallHead(s, now),
	}
	if until, ok := w.fitUntil(s, now); ok {
		v.Until = num{until, "/#" + fromRoom(s.Room, "until")}
	}
	if s.Air != nil {
		v.Read, v.Age = s.Air.ReadAt, age(now.Sub(s.Air.ReadAt))
	}
	if c, ok := nearestDew(s.Surfaces); ok && s.Air != nil {
		v.Margin = num{w.difference(c.Margin), "/#" + fromSurface(s, c)}
	}
	if s.Verdict.State != drying.Fit && len(s.Verdict.Reasons) > 0 {
		v.Why = sentence(w.inUnits(s.Verdict.Reasons[0].Text))
	}
	if s.Verdict.State == drying.Unknown {
		v.Why = sentence(w.unheard(s, now))
	}
	for _, c := range bySoonest(s.Coats) {
		if len(v.Rows) == mostOnWall {
			v.More++
			continue
		}
		v.Rows = append(v.Rows, w.wallRow(c, now))
	}
	return v
}

// bySoonest puts first the coat that is ready first, and last those that stand
// or wait for nothing: of more coats than find a place, the near ones are shown.
func bySoonest(coats []room.CoatNow) []room.CoatNow {
	rank := func(c room.CoatNow) (class int, at time.Time) {
		e, ok := awaited(c)
		switch {
		case !ok:
			return 2, at
		case e.Likely.IsZero():
			return 1, at
		}
		return 0, e.Likely
	}
	ranked := slices.Clone(coats)
	sort.SliceStable(ranked, func(i, j int) bool {
		classA, atA := rank(ranked[i])
		classB, atB := rank(ranked[j])
		return cmp.Or(cmp.Compare(classA, classB), atA.Compare(atB)) < 0
	})
	return ranked
}

// wallHead is the verdict in three or four words.
func (w words) wallHead(s room.Snapshot, now time.Time) string {
	switch s.Verdict.State {
	case drying.Fit:
		if until, ok := w.fitUntil(s, now); ok {
			return "Fit until " + until
		}
		return "Fit to coat"
	case drying.Caution:
		return "Better wait"
	case drying.Unfit:
		return "Do not coat"
	default:
		return "No verdict"
	}
}

// fitUntil is until when a room is likely fit, where that ends tonight.
func (w words) fitUntil(s room.Snapshot, now time.Time) (string, bool) {
	until, ok := fallsUnder(upTo(s.Margin, tonightAxis(now, w.location).to), s.Limit, now)
	return w.clock(earlier(until), now), ok
}

func (w words) wallRow(c room.CoatNow, now time.Time) wallRow {
	e, ok := awaited(c)
	row := wallRow{What: coatName(c)}
	switch {
	case !ok:
		row.When, row.Span = "done", "nothing left to wait for"
	case e.Likely.IsZero():
		row.When, row.Span = "stands", "not yet "+stageWords[e.Stage].state
	case e.Reached:
		row.When, row.Span = "now", stageWords[e.Stage].state+" by the model; touch decides"
	default:
		row.From = "/#" + fromBar(c.ID)
		row.When, row.Span = w.likely(e, now), stageWords[e.Stage].state+" "+w.between(e, now)
	}
	return row
}
