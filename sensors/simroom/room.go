package simroom

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"sort"
	"time"

	"recoat/drying/air"
	"recoat/drying/wood"
	"recoat/sensors"
)

// subStep is the step of the arithmetic inside. Time that does not fill one is
// kept for the next Step, so that it never matters how Step is divided.
const subStep = 10 * time.Second

// Room is a simulated room.
type Room struct {
	cfg     Config
	start   time.Time
	now     time.Time
	pending time.Duration

	weather *weather
	crew    *crew
	burner  burner

	temperature sensors.Celsius
	vapour      float64 // kg in the air
	moisture    float64 // kg of water per kg of the wood store
	pane        film
	fittings    film // dew on everything else, over an area of the room's own order
	boards      []*board
	coats       []Coat // still to come, in order

	outdoors outdoors
	occupied bool
	doorOpen bool
	heating  float64 // W

	ledger ledger
}

// New makes a room that starts at an instant, in whose time zone its days run.
// The error names every field that is out of range.
func New(cfg Config, start time.Time) (*Room, error) {
	if err := cfg.validate(); err != nil {
		return nil, err
	}
	r := &Room{
		cfg: cfg, start: start, now: start,
		weather:     newWeather(cfg.Climate, start, stream(cfg.Seed, 1)),
		crew:        newCrew(cfg.Work, stream(cfg.Seed, 2)),
		burner:      burner{heater: cfg.Heater},
		temperature: cfg.Air,
		moisture:    wood.EMC(cfg.Air, cfg.Humidity) / 100,
	}
	r.outdoors = r.weather.at(start)
	r.vapour = r.dryAir() * air.HumidityRatio(cfg.Air, cfg.Humidity, r.outdoors.pressure)
	for _, p := range cfg.Pieces {
		if err := r.Bring(p); err != nil {
			return nil, err
		}
	}
	r.coats = slices.Clone(cfg.Coats)
	sort.SliceStable(r.coats, func(i, j int) bool { return r.coats[i].After < r.coats[j].After })
	for _, c := range r.coats {
		if err := r.checkCoat(c.Piece, c.Water); err != nil {
			return nil, err
		}
	}
	r.ledger = ledger{}
	return r, nil
}

// stream gives each process of chance its own numbers, so that a change in one
// leaves the others alone.
func stream(seed, which uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, which)) }

// Bring carries a piece into the room at its own temperature. The error says
// which of its fields is out of range, or that its name is taken.
func (r *Room) Bring(p Piece) error {
	if err := p.validate(); err != nil {
		return err
	}
	if r.board(p.Name) != nil {
		return fmt.Errorf("simulated room: piece %q is in the room already", p.Name)
	}
	b := newBoard(p)
	r.boards = append(r.boards, b)
	r.ledger.energy(b.energy())
	return nil
}

// Apply puts a wet coat with so much water, in kg/m², on the first face of a
// piece. The coat has the piece's temperature.
func (r *Room) Apply(piece string, water float64) error {
	if err := r.checkCoat(piece, water); err != nil {
		return err
	}
	r.coat(r.board(piece), water)
	return nil
}

func (r *Room) coat(b *board, water float64) {
	b.films[0].coat(water)
	r.ledger.water(water * b.piece.Area)
}

func (r *Room) checkCoat(piece string, water float64) error {
	if r.board(piece) == nil {
		return fmt.Errorf("simulated room: a coat for %q: there is no such piece in the room", piece)
	}
	if !(water > 0 && water <= 2) {
		return fmt.Errorf("simulated room: a coat for %q with %g kg/m² of water: above 0, up to 2 would be right", piece, water)
	}
	return nil
}

func (r *Room) board(name string) *board {
	i := slices.IndexFunc(r.boards, func(b *board) bool { return b.piece.Name == name })
	if i < 0 {
		return nil
	}
	return r.boards[i]
}

// Step moves the room on by dt; a dt of zero or less does nothing. What the
// room shows afterwards is at most 10 s old, the length of its inner step.
func (r *Room) Step(dt time.Duration) {
	if dt <= 0 {
		return
	}
	for r.pending += dt; r.pending >= subStep; r.pending -= subStep {
		r.advance()
	}
}

// applyDue puts on the coats whose time has come; New has checked them.
func (r *Room) applyDue() {
	for len(r.coats) > 0 && r.now.Sub(r.start) >= r.coats[0].After {
		r.coat(r.board(r.coats[0].Piece), r.coats[0].Water)
		r.coats = r.coats[1:]
	}
}

// Now is the instant that the room shows.
func (r *Room) Now() time.Time { return r.now }

// Air is the temperature of the room's air.
func (r *Room) Air() sensors.Celsius { return r.temperature }

// Humidity is that of the room's air.
func (r *Room) Humidity() sensors.RelativeHumidity {
	return min(100, air.HumidityFromRatio(r.temperature, r.humidityRatio(), r.outdoors.pressure))
}

// Pressure is that of the air, inside and outside.
func (r *Room) Pressure() sensors.Pascals { return r.outdoors.pressure }

// Outdoors is the air outside: its temperature and dew point.
func (r *Room) Outdoors() (air, dewPoint sensors.Celsius) {
	return r.outdoors.temperature, r.outdoors.dewPoint
}

// Surface is the temperature of a piece's first face, the one that is coated,
// and whether there is such a piece.
func (r *Room) Surface(piece string) (sensors.Celsius, bool) {
	b := r.board(piece)
	if b == nil {
		return 0, false
	}
	return b.surfaces[0], true
}
