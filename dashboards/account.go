package dashboards

import (
	"context"
	"errors"
	"net/http"

	"recoat/internal/access"
)

// People keeps the accounts. An error that is an *access.InputError or
// access.ErrUnknown is shown in its own words; any other is logged.
type People interface {
	Accounts(ctx context.Context) ([]access.Account, error)
	Add(ctx context.Context, name string, role access.Role, password string) error
	SetPassword(ctx context.Context, name, password string) error
	Remove(ctx context.Context, name string) error
	Entries(ctx context.Context, limit int32) ([]access.Entry, error)
}

// entriesShown is how many lines of the book of log-ins the page has.
const entriesShown = 50

type accountView struct {
	access.Visitor
	Accounts []access.Account // none but for an owner
	Entries  []entryLine
	Roles    []roleChoice
}

type entryLine struct{ At, What, Who, Origin string }

type roleChoice struct {
	Role access.Role
	Says string
}

// roles are those that can be given, the one given most first.
func roles() []roleChoice {
	return []roleChoice{
		{access.Helper, "note work (helper)"},
		{access.Wall, "look on (wall display)"},
		{access.Owner, "do everything (owner)"},
	}
}

func (s *server) accountRoutes(mux *http.ServeMux) {
	if s.people == nil {
		return
	}
	mux.HandleFunc("GET /account", s.account)
	mux.HandleFunc("POST /people", s.addPerson)
	mux.HandleFunc("POST /people/{name}/password", s.changePassword)
	mux.HandleFunc("POST /people/{name}/remove", s.removePerson)
}

func (s *server) account(w http.ResponseWriter, r *http.Request) {
	v := accountView{Visitor: visitorOf(r)}
	if v.Role == access.Owner {
		if err := s.peopleInto(r.Context(), &v); err != nil {
			s.notTaken(w, "show the accounts", err)
			return
		}
	}
	p := s.page("Account", s.house.Snapshots(), s.now())
	p.Said = said[r.URL.Query().Get("noted")]
	p.Body = v
	s.render(w, http.StatusOK, "account", p)
}

func (s *server) peopleInto(ctx context.Context, v *accountView) (err error) {
	if v.Accounts, err = s.people.Accounts(ctx); err != nil {
		return err
	}
	entries, err := s.people.Entries(ctx, entriesShown)
	if err != nil {
		return err
	}
	for _, e := range entries {
		v.Entries = append(v.Entries, entryLine{s.words.clock(e.At, s.now()), e.What, e.Who, e.Origin})
	}
	v.Roles = roles()
	return nil
}

func (s *server) addPerson(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	role, err := access.ParseRole(r.FormValue("role"))
	if err == nil {
		err = s.people.Add(r.Context(), r.FormValue("name"), role, r.FormValue("password"))
	}
	s.peopleChanged(w, r, "person", err)
}

func (s *server) changePassword(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	s.peopleChanged(w, r, "password", s.people.SetPassword(r.Context(), r.PathValue("name"), r.FormValue("password")))
}

func (s *server) removePerson(w http.ResponseWriter, r *http.Request) {
	s.peopleChanged(w, r, "removed", s.people.Remove(r.Context(), r.PathValue("name")))
}

func (s *server) peopleChanged(w http.ResponseWriter, r *http.Request, noted string, err error) {
	var input *access.InputError
	switch {
	case err == nil:
		http.Redirect(w, r, "/account?noted="+noted, http.StatusSeeOther)
	case errors.As(err, &input):
		s.refuse(w, input.Error())
	case errors.Is(err, access.ErrUnknown):
		s.refuse(w, "there is no account of that name")
	default:
		s.notTaken(w, "change an account", err)
	}
}
