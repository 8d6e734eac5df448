package dashboards

import (
	"context"
	"html/template"
	"log/slog"
	"net/http"
	"sync"
	"sync/atomic"
	"time"

	"recoat/internal/room"
	"recoat/internal/shop/compat"
	"recoat/sensors"
)

// House is what is known of every room now.
type House interface {
	// Snapshots returns one snapshot per room, in the order they are shown.
	// The caller does not change them.
	Snapshots() []room.Snapshot
	// Watch returns a channel that gets a tick after anything changed. A tick
	// nobody has taken yet stands for all that follow: the sender never waits.
	// The channel is forgotten, and may be closed, once ctx is done.
	Watch(ctx context.Context) <-chan struct{}
}

// History is what was measured in a room.
type History interface {
	// Band returns the air of a room from one instant to another, oldest
	// first, in buckets wide enough that some hundreds of points cover it.
	// Buckets in which nothing good was measured are left out.
	Band(ctx context.Context, room string, from, to time.Time) ([]Point, error)
}

// Point is the air of a room in one bucket. A nil value was not measured.
type Point struct {
	At       time.Time // middle of the bucket
	Air      *sensors.Celsius
	DewPoint *sensors.Celsius
	Humidity *sensors.RelativeHumidity
	Surfaces map[string]sensors.Celsius // by probe
}

// Options are what New needs. Only House is required: without a History the
// room page shows no chart, without a Book there are no forms.
type Options struct {
	House   House
	History History
	Doings  Doings // nil: charts show what was measured, not what was done
	Told    Told   // nil: charts show no alerts
	// Schedules are asked what waits for what; nil: Tonight knows coats alone.
	Schedules Schedules
	Book      Book
	Cards     Cards  // nil: there are no care cards
	Photos    Photos // nil: pieces have no photo
	Backup    Backup // nil: the journal is backed up by the shell alone
	Setup     Setup
	Records   Records // of coats; nil: there are none
	Checks    Checks  // of sensors; nil: there are none
	// Compat says what is known of one coat over another; the zero table knows
	// nothing.
	Compat compat.Table
	// Acknowledge notes that a person has seen an alert, by its episode, and
	// reports whether there was one to be seen; nil: alerts are only shown.
	Acknowledge func(episode string) bool
	Alerts      Alerts    // nil: there is no page Alerts
	Previewer   Previewer // nil: no past night can be played
	Push        Push      // nil: there is no Web Push
	// Notices are what every page says first, such as what was lost and why;
	// nil: nothing.
	Notices    func() []string
	Simulated  bool // the pages say so
	Log        *slog.Logger
	Location   *time.Location   // the shop's; time.Local if nil
	Now        func() time.Time // time.Now if nil
	Fahrenheit bool             // show °F; JSON stays in °C
	TwelveHour bool             // show 9:40 pm, not 21:40
	// Hosts are names, besides loopback names and bare addresses, under which
	// browsers may ask, such as "recoat.local".
	Hosts []string
	// Gate decides who may come in; nil: whoever reaches the pages. People are its
	// accounts, for the owner's page.
	Gate   Gate
	People People
	// Authority is the certificate, in PEM, that signed the server's, for phones
	// to trust; nil where it is not our own.
	Authority []byte
	// Heartbeat is how often an idle event stream says that it lives; 15 s if
	// zero.
	Heartbeat time.Duration
}

const defaultHeartbeat = 15 * time.Second

type server struct {
	house     House
	history   History
	doings    Doings
	told      Told
	schedules Schedules
	people    People
	book      Book
	records   Records
	checks    Checks
	compat    compat.Table
	cards     Cards
	photos    Photos
	backup    Backup
	setup     Setup
	seen      func(episode string) bool // nil: alerts are only shown
	alerts    Alerts
	previewer Previewer
	playing   sync.Mutex // one past night at a time
	push      Push
	simulated bool
	notices   func() []string
	log       *slog.Logger
	now       func() time.Time
	words     words
	heartbeat time.Duration
	assets    *assets
	pages     *template.Template // all of them, as parsePages says
	drawing   *template.Template // of a room's history, for a file
	home      latest[rendered]   // the plain page Tonight
	state     latest[string]     // the version of the rooms
	streams   atomic.Int64       // open event streams
}

// New returns the handler of every page, asset, stream and JSON document.
func New(o Options) http.Handler {
	s := &server{
		house:     o.House,
		history:   o.History,
		doings:    o.Doings,
		told:      o.Told,
		schedules: o.Schedules,
		people:    o.People,
		book:      o.Book,
		records:   o.Records,
		checks:    o.Checks,
		compat:    o.Compat,
		cards:     o.Cards,
		photos:    o.Photos,
		backup:    o.Backup,
		setup:     o.Setup,
		seen:      o.Acknowledge,
		alerts:    o.Alerts,
		previewer: o.Previewer,
		push:      o.Push,
		simulated: o.Simulated,
		notices:   o.Notices,
		log:       o.Log,
		now:       o.Now,
		words:     words{location: o.Location, fahrenheit: o.Fahrenheit, twelve: o.TwelveHour},
		heartbeat: o.Heartbeat,
		assets:    loadAssets(assetFiles),
	}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	if s.now == nil {
		s.now = time.Now
	}
	if s.words.location == nil {
		s.words.location = time.Local
	}
	if s.heartbeat <= 0 {
		s.heartbeat = defaultHeartbeat
	}
	s.pages = parsePages(s.assets)
	s.drawing = exportTemplate()
	pages := s.routes()
	if o.Gate != nil {
		pages = newGate(o, s.assets, pages, s.log)
	}
	return secure(zipping(pages), o.Hosts)
}

func (s *server) routes() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.tonight)
	mux.HandleFunc("GET /room/{id}", s.room)
	mux.HandleFunc("GET /room/{id}/history.svg", s.exportSVG)
	mux.HandleFunc("GET /room/{id}/history.csv", s.exportCSV)
	mux.HandleFunc("GET /wall", s.wall)
	mux.HandleFunc("GET /wall/{id}", s.wall)
	mux.HandleFunc("GET /manifest.webmanifest", s.manifest)
	mux.HandleFunc("GET /sw.js", s.worker)
	mux.HandleFunc("GET /events", s.events)
	mux.HandleFunc("GET /api/rooms", s.apiRooms)
	mux.HandleFunc("GET /api/rooms/{id}/history", s.apiHistory)
	mux.HandleFunc("GET /assets/{file...}", s.assets.serve)
	mux.HandleFunc("GET /healthz", health)
	if s.seen != nil {
		mux.HandleFunc("POST /alerts/{id}/seen", s.acknowledge)
	}
	s.bookRoutes(mux)
	s.setupRoutes(mux)
	if s.book.Products != nil {
		s.planRoutes(mux)
	}
	if s.checks != nil {
		s.checkRoutes(mux)
	}
	if s.records != nil {
		s.recordRoutes(mux)
	}
	s.accountRoutes(mux)
	if s.alerts != nil {
		s.alertRoutes(mux)
	}
	mux.HandleFunc("GET /", s.notFound)
	return mux
}

func health(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, _ = w.Write([]byte("ok\n")) // the asker may be gone; nothing is left to do
}
