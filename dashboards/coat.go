package dashboards

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"recoat/drying"
)

const (
	maxForm = 8 << 10 // bytes of a form
	minFilm = 5       // µm: thinner is a wipe, not a film
	maxFilm = 2000    // µm
)

// said is what a page says after a form was taken, by the word in its address.
var said = map[string]string{
	"coat":  "The coat is noted. Its times show as soon as the room has been reckoned again.",
	"touch": "The touch test is noted. The times learn from it.",
}

// finds are what a touch test can find.
var finds = []string{"wet", "tacky", "dry"}

func (s *server) applyCoat(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	film, err := parseFilm(r.FormValue("film"))
	if err != nil {
		s.refuse(w, err)
		return
	}
	c := CoatRequest{Part: r.FormValue("part"), Product: r.FormValue("product"), Film: film, At: s.now()}
	if c.Part == "" || c.Product == "" {
		s.refuse(w, fmt.Errorf("choose the part and the product"))
		return
	}
	if err := s.journal.ApplyCoat(r.Context(), c); err != nil {
		s.log.Warn("note a coat", "part", c.Part, "product", c.Product, "err", err)
		s.refuse(w, err)
		return
	}
	http.Redirect(w, r, "/?noted=coat", http.StatusSeeOther)
}

func (s *server) addTouch(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	t := TouchRequest{Coat: r.PathValue("id"), Found: r.FormValue("found"), At: s.now()}
	if !slices.Contains(finds, t.Found) {
		s.refuse(w, fmt.Errorf("a touch test finds wet, tacky or dry"))
		return
	}
	if err := s.journal.AddTouch(r.Context(), t); err != nil {
		s.log.Warn("note a touch test", "coat", t.Coat, "err", err)
		s.refuse(w, err)
		return
	}
	http.Redirect(w, r, "/?noted=touch", http.StatusSeeOther)
}

func (s *server) refuse(w http.ResponseWriter, err error) {
	s.say(w, http.StatusUnprocessableEntity, message{"Not noted", sentence(err.Error())})
}

// parseFilm reads a wet film in micrometres; nothing means as on the label.
func parseFilm(text string) (drying.Microns, error) {
	text = strings.TrimSpace(text)
	if text == "" {
		return 0, nil
	}
	um, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil || !(um >= minFilm && um <= maxFilm) {
		return 0, fmt.Errorf("the wet film %.20q cannot be right: give micrometres from %d to %d, or leave it empty for the label's film", text, minFilm, maxFilm)
	}
	return drying.Microns(um), nil
}
