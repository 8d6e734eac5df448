package dashboards

import (
	"context"
	"errors"
	"io"
	"net/http"
	"time"

	"recoat/internal/shop"
	"recoat/internal/shop/photo"
)

// Photos keeps the photos of pieces.
type Photos interface {
	Put(r io.Reader) (name string, err error)
	Get(name string) (content []byte, mediaType string, err error)
}

func (s *server) photoRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /photos/{name}", s.photoShow)
	mux.HandleFunc("POST /pieces/{id}/photo", s.photoAdd)
}

func (s *server) photoShow(w http.ResponseWriter, r *http.Request) {
	content, mediaType, err := s.photos.Get(r.PathValue("name"))
	if errors.Is(err, photo.ErrNotThere) {
		http.NotFound(w, r)
		return
	}
	if err != nil {
		s.log.Error("read a photo", "err", err)
		http.Error(w, "This photo cannot be read. The log says why.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", mediaType)
	w.Header().Set("Cache-Control", "private, max-age=31536000, immutable") // its name is its content
	_, _ = w.Write(content)                                                 // the asker may be gone; nothing is left to do
}

// slowPhoto is how long a phone may take to send a photo.
const slowPhoto = 2 * time.Minute

func (s *server) photoAdd(w http.ResponseWriter, r *http.Request) {
	if err := http.NewResponseController(w).SetReadDeadline(time.Now().Add(slowPhoto)); err != nil && !errors.Is(err, http.ErrNotSupported) {
		s.log.Error("give a photo its time", "err", err)
	}
	r.Body = http.MaxBytesReader(w, r.Body, photo.MostBytes+maxForm)
	file, _, err := r.FormFile("photo")
	var long *http.MaxBytesError
	switch {
	case errors.As(err, &long):
		s.say(w, http.StatusRequestEntityTooLarge, message{"Not noted", "The photo is larger than 16 MiB: take a smaller one."})
		return
	case err != nil:
		s.refuse(w, "choose a photo first, a JPEG or a PNG")
		return
	}
	defer func() { _ = file.Close() }() // it was only read
	err = s.keepPhoto(r.Context(), r.PathValue("id"), file)
	var refused *photo.RefusedError
	switch {
	case errors.As(err, &refused):
		s.refuse(w, err.Error())
	case err != nil:
		s.notTaken(w, "keep a photo", err)
	default:
		http.Redirect(w, r, "/pieces/"+r.PathValue("id")+"?noted=photo", http.StatusSeeOther)
	}
}

func (s *server) keepPhoto(ctx context.Context, piece string, file io.Reader) error {
	if _, err := s.book.Pieces.Piece(ctx, piece); err != nil {
		return err
	}
	name, err := s.photos.Put(file)
	if err != nil {
		return err
	}
	_, err = s.book.Pieces.EditPiece(ctx, piece, shop.PieceEdit{Photo: &name}, s.now())
	return err
}
