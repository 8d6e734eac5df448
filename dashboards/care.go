package dashboards

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"time"

	"recoat/dashboards/carecard"
	"recoat/internal/shop/care"
)

// Cards makes the card of a piece for its buyer. What the journal notes of the
// client is not on it.
type Cards interface {
	Card(ctx context.Context, id string, at time.Time) (care.Card, error)
}

// cardStyle is where the style of a card among the pages is.
const cardStyle = "/care.css"

func (s *server) careRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /pieces/{id}/care", s.careCard)
	mux.HandleFunc("GET "+cardStyle, func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/css; charset=utf-8")
		_, _ = io.WriteString(w, carecard.Style) // the asker may be gone; nothing is left to do
	})
}

// careCard shows the card of a piece as one sheet, or gives it as a file. Its
// code leads to where the finisher says that the file will stand, else here.
func (s *server) careCard(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	card, err := s.cards.Card(r.Context(), id, s.now().In(s.words.location))
	if err != nil {
		s.missing(w, "make a care card", "piece", err)
		return
	}
	sheet := carecard.Sheet{Card: card, Link: r.URL.Query().Get("link"), Style: cardStyle, Icon: s.assets.address("icon.svg"), Back: "/pieces/" + id}
	if sheet.Link == "" {
		sheet.Link = askedAt(r) + "/pieces/" + id + "/care"
	} else if err := carecard.CheckLink(sheet.Link); err != nil {
		s.refuse(w, err.Error())
		return
	}
	file := r.URL.Query().Get("file") != ""
	if file {
		sheet.Style, sheet.Icon, sheet.Back = "", "", ""
	}
	var page bytes.Buffer
	if err := carecard.Render(&page, sheet); err != nil {
		s.cannotRead(w, "render a care card", err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if file {
		w.Header().Set("Content-Disposition", `attachment; filename="care-card-`+id+`.html"`)
	}
	_, _ = w.Write(page.Bytes()) // the asker may be gone; nothing is left to do
}

// askedAt is how the asker's browser reached us.
func askedAt(r *http.Request) string {
	if r.TLS != nil {
		return "https://" + r.Host
	}
	return "http://" + r.Host
}
