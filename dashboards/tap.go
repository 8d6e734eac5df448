package dashboards

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"time"

	"recoat/internal/shop"
)

// A form of one tap may come late: the page keeps it while the hub is out of
// reach, with the time it was made and a name of its own, and sends it until it
// is answered.

// tapped returns the context of the change that a form asks for, and when its
// tap was made: what the page says, and never later than now.
func (s *server) tapped(r *http.Request, a answers) (context.Context, time.Time) {
	now := s.now()
	made, err := time.Parse(time.RFC3339, a.text("made"))
	if err != nil || made.After(now) {
		made = now
	}
	t := shop.Tap{ID: a.text("tap"), Who: visitorOf(r).Name}
	if t.ID != "" {
		t.Made = made
	}
	return shop.WithTap(r.Context(), t), made
}

// taken is what came of a form.
type taken struct {
	noted string // what is said, by its key in said
	says  string // what is said instead; empty: that
	more  string // the page where more is to be said; empty: nowhere
	of    string // the id of what was made, for taking it back
	undo  string // where it is taken back, if of does not say
	to    string // the page that shows it
}

// undoing says where what was noted is taken back.
var undoing = map[string]string{"coat": "/coats/{id}/undo", "touch": "/touches/{id}/undo"}

var anyID = regexp.MustCompile(`^[a-z]-[0-9]{4,12}$`)

// undoOf returns where what was noted is taken back, and "" if it is not.
func undoOf(noted, of string) string {
	if !anyID.MatchString(of) {
		return ""
	}
	return strings.Replace(undoing[noted], "{id}", of, 1)
}

// took answers a form that was taken: a script learns what to say, a browser
// without one is led to the page that shows it.
func (s *server) took(w http.ResponseWriter, r *http.Request, t taken) {
	query := url.Values{"noted": {t.noted}}
	if t.of != "" {
		query.Set("of", t.of)
	}
	to := t.to + "?" + query.Encode()
	if scripted(r) {
		s.answer(w, http.StatusOK, map[string]string{"said": cmp.Or(t.says, said[t.noted]), "undo": cmp.Or(t.undo, undoOf(t.noted, t.of)), "to": to, "more": t.more})
		return
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// notTap tells what was wrong with what was given; anything else that went
// wrong goes to the log, and the tap may come again.
func (s *server) notTap(w http.ResponseWriter, r *http.Request, operation string, err error) {
	var long *http.MaxBytesError
	if !scripted(r) {
		if errors.As(err, &long) {
			s.tooLong(w)
			return
		}
		s.notTaken(w, operation, err)
		return
	}
	why, mine := inputFault(err)
	switch {
	case mine:
		s.answer(w, http.StatusUnprocessableEntity, map[string]string{"refused": sentence(why)})
	case errors.As(err, &long):
		s.answer(w, http.StatusRequestEntityTooLarge, map[string]string{"refused": "That is more than fits."})
	default:
		s.log.Error(operation, "err", err)
		s.answer(w, http.StatusInternalServerError, map[string]string{"refused": "The journal could not take it."})
	}
}

// scripted reports whether a form was sent by our script, not by the browser.
func scripted(r *http.Request) bool { return r.Header.Get("Accept") == "application/json" }

func (s *server) answer(w http.ResponseWriter, status int, v map[string]string) {
	body, err := json.Marshal(v)
	if err != nil {
		s.log.Error("encode an answer", "err", err)
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_, _ = w.Write(append(body, '\n')) // the asker may be gone; nothing is left to do
}

// told takes from the address what came of the form just sent.
func (p *page) told(r *http.Request) {
	noted := r.URL.Query().Get("noted")
	p.Said, p.Undo = said[noted], undoOf(noted, r.URL.Query().Get("of"))
}

// tap takes a form of one tap and does what it asks.
func (s *server) tap(w http.ResponseWriter, r *http.Request, operation string, do func(context.Context, answers, time.Time) (taken, error)) {
	a, err := readForm(w, r, maxForm)
	if err != nil {
		s.notTap(w, r, operation, err)
		return
	}
	ctx, made := s.tapped(r, a)
	t, err := do(ctx, a, made)
	if err != nil {
		s.notTap(w, r, operation, err)
		return
	}
	t.to = backTo(a, t.to)
	s.took(w, r, t)
}

// backTo is the page a form came from, one of ours; else the other. A browser
// leaves out tabs and line breaks, so that an address is taken only as it is
// written anew.
func backTo(a answers, other string) string {
	to := a.text("back")
	if to == "" || strings.ContainsAny(to, "?#") || local(to) != to {
		return other
	}
	return to
}
