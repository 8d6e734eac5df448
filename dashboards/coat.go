package dashboards

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"recoat/drying"
	"recoat/internal/shop"
)

const maxForm = 8 << 10 // bytes of a form

// said is what a page says after a form was taken, by the word in its address.
var said = map[string]string{
	"can":      "The can stands on the shelf.",
	"measured": "Noted: that much is left.",
	"mix":      "The mix is kept.",
	"opened":   "Noted: the can is open.",
	"coat":     "The coat is noted. Its times show as soon as the room has been reckoned again.",
	"password": "The password is changed, and every session of that account has ended.",
	"person":   "They may come in.",
	"product":  "The label is kept.",
	"removed":  "They may not come in any more.",
	"seen":     "Noted: you have seen it.",
	"touch":    "The touch test is noted. The times learn from it.",
}

// finds are what a touch test can find.
var finds = []string{"wet", "tacky", "dry"}

func (s *server) applyCoat(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	film, err := parseFilm(r.FormValue("film"))
	if err != nil {
		s.refuse(w, err.Error())
		return
	}
	c := CoatRequest{Part: r.FormValue("part"), Product: r.FormValue("product"), Film: film, At: s.now()}
	if c.Part == "" || c.Product == "" {
		s.refuse(w, "choose the part and the product")
		return
	}
	if err := s.journal.ApplyCoat(r.Context(), c); err != nil {
		s.notTaken(w, "note a coat", err)
		return
	}
	http.Redirect(w, r, "/?noted=coat", http.StatusSeeOther)
}

func (s *server) addTouch(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	t := TouchRequest{Coat: r.PathValue("id"), Found: r.FormValue("found"), At: s.now()}
	if !slices.Contains(finds, t.Found) {
		s.refuse(w, "a touch test finds wet, tacky or dry")
		return
	}
	if err := s.journal.AddTouch(r.Context(), t); err != nil {
		s.notTaken(w, "note a touch test", err)
		return
	}
	http.Redirect(w, r, "/?noted=touch", http.StatusSeeOther)
}

// notTaken tells the finisher what was wrong with what was given; anything
// else that went wrong goes to the log.
func (s *server) notTaken(w http.ResponseWriter, operation string, err error) {
	var input *shop.InputError
	if errors.As(err, &input) || errors.Is(err, shop.ErrNotFound) {
		s.refuse(w, err.Error())
		return
	}
	s.log.Error(operation, "err", err)
	s.say(w, http.StatusInternalServerError, message{"Not noted", "The journal could not take it. The log says why; try again."})
}

func (s *server) refuse(w http.ResponseWriter, why string) {
	s.say(w, http.StatusUnprocessableEntity, message{"Not noted", sentence(why)})
}

// parseFilm reads a wet film in micrometres; nothing means as on the label.
func parseFilm(text string) (drying.Microns, error) {
	text = strings.TrimSpace(text)
	if text == "" {
		return 0, nil
	}
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	film := drying.Microns(v)
	if err != nil || !(film >= shop.ThinnestFilm && film <= shop.ThickestFilm) {
		return 0, fmt.Errorf("the wet film %.20q cannot be right: give micrometres from %v to %v, or leave it empty for the label's film",
			text, float64(shop.ThinnestFilm), float64(shop.ThickestFilm))
	}
	return film, nil
}
