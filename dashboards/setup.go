package dashboards

import (
	"context"
	"io"
	"net/http"
	"slices"
	"time"

	"recoat/internal/room"
	"recoat/internal/shop"
)

// Setup is what the configuration file decides. The page shows it, and leaves it
// to that file.
type Setup struct {
	File     string   // the configuration file; empty: none was named, and the defaults hold
	Channels []string // the ways to the phone; none: the log alone
	Second   []string // those that are told what nobody acknowledges
	Hub      string   // the hub's name among those at its broker
	Rooms    []string // the only rooms that are its own; none: every room
}

// Backup writes the whole journal.
type Backup interface {
	Backup(ctx context.Context, w io.Writer) error
}

func (s *server) setupRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /setup", s.setupShow)
	if s.backup != nil {
		mux.HandleFunc("GET /setup/journal.json", s.setupBackup)
	}
}

// setupView is what is set up, and what is left to do until the first coat.
type setupView struct {
	Guide  []guideStep
	Done   bool // nothing of it is left
	Rooms  []setupRoom
	Setup  Setup
	Backup bool
}

// guideStep is one step from no sensor to the first coat.
type guideStep struct {
	Done        bool
	Needed      bool // no time can be told without it
	Title, How  string
	Href, Label string // the tap that does it; empty: it is not done here
}

type setupRoom struct {
	ID, Title string
	Nodes     []setupNode
}

type setupNode struct{ Name, Heard, State string }

func (s *server) setupShow(w http.ResponseWriter, r *http.Request) {
	snapshots := s.house.Snapshots()
	view := setupView{Setup: s.setup, Backup: s.backup != nil}
	for _, snap := range snapshots {
		view.Rooms = append(view.Rooms, s.words.setupRoom(snap, s.now()))
	}
	var err error
	if view.Guide, err = s.guide(r.Context(), snapshots); err != nil {
		s.cannotRead(w, "read how far the shop is set up", err)
		return
	}
	view.Done = !slices.ContainsFunc(view.Guide, func(g guideStep) bool { return !g.Done })
	s.show(w, r, http.StatusOK, shown{"Setup", "Setup", "setup", view})
}

func (w words) setupRoom(s room.Snapshot, now time.Time) setupRoom {
	v := setupRoom{ID: s.Room, Title: roomTitle(s)}
	for _, n := range s.Nodes {
		node := setupNode{Name: n.Node, State: "gives all that it has"}
		if !n.Heard.IsZero() {
			node.Heard = "heard " + age(now.Sub(n.Heard))
		}
		switch {
		case n.Silent:
			node.State = "silent: check its power and its network"
		case len(n.Missing) > 0:
			node.State = "gives no " + channelList(n.Missing)
		case len(n.Suspect) > 0:
			node.State = "gives a doubtful " + channelList(n.Suspect)
		}
		v.Nodes = append(v.Nodes, node)
	}
	return v
}

// guide is the way from no sensor to the first coat.
func (s *server) guide(ctx context.Context, snapshots []room.Snapshot) ([]guideStep, error) {
	steps := []guideStep{
		{Needed: true, Title: "A sensor in the room", How: "Air temperature and humidity at the height of the piece, away from the door and the heater. recoat sensors list says what is wired, recoat sensors read what it measures.", Done: measured(snapshots)},
		{Title: "A probe on the coldest surface", How: "Tape it to the underside of the coldest part. Without one the surface is reckoned from the air, and the dew margin is less sure.", Done: probed(snapshots)},
		{Title: "A way to your phone", How: "Name a channel under [alerts] in the configuration file. Without one, alerts go to the log alone. recoat doctor tries it.", Done: len(s.setup.Channels) > 0},
	}
	if s.book.Products == nil {
		return steps, nil
	}
	products, err := s.book.Products.Products(ctx)
	if err != nil {
		return nil, err
	}
	pieces, err := s.book.Pieces.ListPieces(ctx, shop.PieceFilter{Limit: 1})
	if err != nil {
		return nil, err
	}
	coats, err := s.everCoated(ctx, snapshots)
	if err != nil {
		return nil, err
	}
	return append(steps,
		guideStep{Needed: true, Title: "The label of what you use", How: "Copy it from the can: it takes a minute.", Href: "/products/new", Label: "Copy a label", Done: len(products) > 0},
		guideStep{Needed: true, Title: "The piece on the bench", How: "A name, and each part that is finished by itself.", Href: "/pieces/new", Label: "Add a piece", Done: len(pieces) > 0},
		guideStep{Needed: true, Title: "The first coat", How: "Tap Coat on now when you put the brush down. From then on Tonight says when it can be sanded, coated and handled.", Href: "/coats/new", Label: "Note a coat", Done: coats},
	), nil
}

// everCoated reports whether a coat was ever noted, drying or long delivered.
func (s *server) everCoated(ctx context.Context, snapshots []room.Snapshot) (bool, error) {
	if slices.ContainsFunc(snapshots, func(r room.Snapshot) bool { return len(r.Coats) > 0 }) {
		return true, nil
	}
	all, err := s.book.Coats.Coats(ctx, shop.CoatFilter{})
	return len(all) > 0, err
}

// firstSteps says how far a new shop is, for its home page; nil once a coat was
// noted, or where nobody can note one.
func (s *server) firstSteps(ctx context.Context, snapshots []room.Snapshot) *firstView {
	if s.book.Products == nil {
		return nil
	}
	if noted, err := s.everCoated(ctx, snapshots); err != nil || noted {
		return nil
	}
	guide, err := s.guide(ctx, snapshots)
	if err != nil {
		s.log.Error("read how far the shop is set up", "err", err)
		return nil
	}
	v := &firstView{}
	for _, step := range guide {
		switch {
		case !step.Needed:
		case step.Done:
			v.Done++
		case v.Next.Title == "":
			v.Next = step
		}
		if step.Needed {
			v.Of++
		}
	}
	return v
}

// firstView is how far a new shop is on its way to the first coat.
type firstView struct {
	Done, Of int
	Next     guideStep
}

func measured(snapshots []room.Snapshot) bool {
	return slices.ContainsFunc(snapshots, func(s room.Snapshot) bool { return s.Air != nil })
}

func probed(snapshots []room.Snapshot) bool {
	return slices.ContainsFunc(snapshots, func(s room.Snapshot) bool {
		return slices.ContainsFunc(s.Surfaces, func(f room.SurfaceNow) bool { return f.Measured })
	})
}

// setupBackup gives the whole journal as a file.
func (s *server) setupBackup(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Content-Disposition", `attachment; filename="journal.json"`)
	if err := s.backup.Backup(r.Context(), w); err != nil {
		s.log.Error("back the journal up", "err", err)
		panic(http.ErrAbortHandler) // what was sent must not pass for a whole backup
	}
}
