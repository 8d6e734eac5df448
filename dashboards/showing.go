package dashboards

import (
	"errors"
	"net/http"

	"recoat/internal/access"
	"recoat/internal/shop"
)

// shown is a page to be rendered.
type shown struct {
	title, section, template string
	body                     any
}

// show renders a page of the journal with what came of the form just sent.
func (s *server) show(w http.ResponseWriter, r *http.Request, status int, v shown) {
	p := s.page(v.title, s.house.Snapshots(), s.now())
	p.Section, p.Body = v.section, v.body
	p.Helps = visitorOf(r).Role == access.Helper
	p.told(r)
	p.Journal = s.newest(r.Context())
	s.render(w, status, v.template, p)
}

// cannotRead says that the journal could not be read; the log says why.
func (s *server) cannotRead(w http.ResponseWriter, operation string, err error) {
	s.log.Error(operation, "err", err)
	s.say(w, http.StatusInternalServerError, message{"Not read", "The journal cannot be read just now. The log says why; try again."})
}

// missing says that nothing has the name asked for, or else that the journal
// could not be read.
func (s *server) missing(w http.ResponseWriter, operation, noun string, err error) {
	if !errors.Is(err, shop.ErrNotFound) {
		s.cannotRead(w, operation, err)
		return
	}
	s.say(w, http.StatusNotFound, message{"Nothing is here", "The journal holds no " + noun + " of that name. Choose one from its list."})
}

// tooLong refuses a form that no finisher fills in.
func (s *server) tooLong(w http.ResponseWriter) {
	s.say(w, http.StatusRequestEntityTooLarge, message{"Not noted", "That is more than fits. A note has at most 500 characters; shorten it and send it again."})
}

// inputFault is what was wrong with what a person gave, if that is what an
// error says.
func inputFault(err error) (string, bool) {
	var input *shop.InputError
	if errors.As(err, &input) || errors.Is(err, shop.ErrNotFound) {
		return err.Error(), true
	}
	return "", false
}

// shelfTabs lead between the three lists of what the shop works with.
func shelfTabs(here string) []navLink {
	return []navLink{
		{Title: "Cans", Href: "/shelf", Here: here == "Cans"},
		{Title: "Products", Href: "/products", Here: here == "Products"},
		{Title: "Mixes", Href: "/mixes", Here: here == "Mixes"},
	}
}

// notTaken tells the finisher what was wrong with what was given; anything
// else that went wrong goes to the log.
func (s *server) notTaken(w http.ResponseWriter, operation string, err error) {
	if why, mine := inputFault(err); mine {
		s.refuse(w, why)
		return
	}
	s.log.Error(operation, "err", err)
	s.say(w, http.StatusInternalServerError, message{"Not noted", "The journal could not take it. The log says why; try again."})
}

func (s *server) refuse(w http.ResponseWriter, why string) {
	s.say(w, http.StatusUnprocessableEntity, message{"Not noted", sentence(why)})
}
