package dashboards

import (
	"context"
	"net/http"
	"time"

	"recoat/drying"
	"recoat/internal/shop"
	"recoat/internal/shop/compat"
	"recoat/internal/shop/mix"
	"recoat/internal/shop/schedule"
)

// Book is the journal as its own pages use it, a small interface for each. All
// of it is there, or none: without Products there are no pages of the journal.
type Book struct {
	Products  Products
	Shelf     Shelf
	Mixes     Mixes
	Pieces    Pieces
	Parts     Parts
	Steps     Steps
	Coats     Coats
	Adviser   Adviser
	Touches   Touches
	Reminders Reminders
	Past      Past
	News      News
}

// Products keeps products as their labels state them.
type Products interface {
	Products(ctx context.Context) ([]shop.Product, error)
	Product(ctx context.Context, id string) (shop.Product, error)
	PutProduct(ctx context.Context, label drying.Product, at time.Time) (shop.Product, error)
	EditProduct(ctx context.Context, id string, label drying.Product, at time.Time) (shop.Product, error)
}

// Shelf keeps the cans.
type Shelf interface {
	Cans(ctx context.Context, product string) ([]shop.Can, error)
	AddCan(ctx context.Context, c shop.Can, at time.Time) (shop.Can, error)
	OpenCan(ctx context.Context, id string, opened, at time.Time) error
	MeasureCan(ctx context.Context, id string, leftML float64, at time.Time) error
}

// Mixes keeps the colour recipes.
type Mixes interface {
	Mixes(ctx context.Context) ([]shop.Mix, error)
	Mix(ctx context.Context, id string) (shop.Mix, error)
	AddMix(ctx context.Context, r mix.Recipe, at time.Time) (shop.Mix, error)
}

// Pieces keeps the pieces.
type Pieces interface {
	ListPieces(ctx context.Context, f shop.PieceFilter) ([]shop.Piece, error)
	Piece(ctx context.Context, id string) (shop.Piece, error)
	AddPiece(ctx context.Context, p shop.Piece, at time.Time) (shop.Piece, error)
	EditPiece(ctx context.Context, id string, e shop.PieceEdit, at time.Time) (shop.Piece, error)
	DuplicatePiece(ctx context.Context, id, name string, at time.Time) (shop.Piece, error)
}

// Parts keeps what is known of each part of a piece.
type Parts interface {
	Rooms(ctx context.Context) ([]shop.Room, error)
	EditPart(ctx context.Context, id string, e shop.PartEdit, at time.Time) (shop.Piece, error)
	PlacePart(ctx context.Context, id, room, probe string, at time.Time) error
	AddMoisture(ctx context.Context, m shop.Moisture, at time.Time) (shop.Moisture, error)
	Moistures(ctx context.Context, piece string) ([]shop.Moisture, error)
}

// Steps keeps the finishing schedules of parts.
type Steps interface {
	Schedules(ctx context.Context, piece string) ([]schedule.Part, error)
	SetSchedule(ctx context.Context, part, template string, steps []schedule.Step, at time.Time) error
	TickStep(ctx context.Context, part string, id int, done time.Time, skipped bool, at time.Time) error
	UntickStep(ctx context.Context, part string, id int, at time.Time) error
	OpenPieces(ctx context.Context, room string) ([]string, error)
}

// Coats keeps the coats.
type Coats interface {
	Coats(ctx context.Context, f shop.CoatFilter) ([]shop.Coat, error)
	Coat(ctx context.Context, id string) (shop.Coat, error)
	ApplyCoat(ctx context.Context, a shop.Application, at time.Time) (shop.Coat, error)
	EditCoat(ctx context.Context, id string, e shop.CoatEdit, at time.Time) (shop.Coat, error)
	UndoCoat(ctx context.Context, id string, at time.Time) error
}

// Adviser says what a coat most likely is, and what there is to think of first.
type Adviser interface {
	CoatDefaults(ctx context.Context, part, product string, now time.Time) (shop.Application, error)
	Advise(ctx context.Context, table compat.Table, a shop.Application) (shop.Advice, error)
}

// Touches keeps the touch tests.
type Touches interface {
	AddTouch(ctx context.Context, t shop.Touch, at time.Time) (shop.Touch, error)
	Touches(ctx context.Context, coat string) ([]shop.Touch, error)
	UndoTouch(ctx context.Context, id string, at time.Time) error
}

// Reminders keeps asking for the oily rags of a coat.
type Reminders interface {
	OpenReminders(ctx context.Context) ([]shop.Reminder, error)
	TickReminder(ctx context.Context, coat string, at time.Time) error
}

// Past is what was changed, and the way back.
type Past interface {
	ChangesOf(ctx context.Context, id string) ([]shop.Change, error)
	UndoEdit(ctx context.Context, seq int64, at time.Time) error
	Archive(ctx context.Context, id string, at time.Time) error
	Unarchive(ctx context.Context, id string, at time.Time) error
	Filed(ctx context.Context, kind string) ([]shop.Filed, error)
}

// News is when the journal changes, whoever changes it.
type News interface {
	Watch(ctx context.Context) <-chan struct{}
	Newest(ctx context.Context) (int64, error)
}

// bookRoutes adds the pages of the journal.
func (s *server) bookRoutes(mux *http.ServeMux) {
	if s.book.Products == nil {
		return
	}
	s.productRoutes(mux)
	s.shelfRoutes(mux)
	s.mixRoutes(mux)
	s.pieceRoutes(mux)
	s.partRoutes(mux)
	s.coatRoutes(mux)
	s.pastRoutes(mux)
	if s.cards != nil {
		s.careRoutes(mux)
	}
	if s.photos != nil {
		s.photoRoutes(mux)
	}
}

// fromJournal leads to a page of the journal, where there is one.
func fromJournal(href string) func(*server, []roomLink) string {
	return func(s *server, _ []roomLink) string {
		if s.book.Products == nil {
			return ""
		}
		return href
	}
}
