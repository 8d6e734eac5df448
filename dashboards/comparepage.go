package dashboards

import (
	"net/http"
	"strings"

	"recoat/internal/audit"
)

type compareView struct {
	audit.Comparison
	Asked string
	Wrong string
}

// compare lays the coats named in the address beside each other.
func (s *server) compare(w http.ResponseWriter, r *http.Request) {
	asked := strings.FieldsFunc(r.URL.Query().Get("coats"), func(r rune) bool { return r == ',' || r == ' ' })
	view := compareView{Asked: strings.Join(asked, " ")}
	if len(asked) > 0 {
		c, err := s.records.Compare(r.Context(), asked)
		if err != nil {
			s.missing(w, "compare coats", "coat", err)
			return
		}
		view.Comparison = c
	}
	s.show(w, r, http.StatusOK, shown{"Compare coats", "Pieces", "compare", view})
}

// uses lays all coats of a product beside each other.
func (s *server) uses(w http.ResponseWriter, r *http.Request) {
	c, err := s.records.Uses(r.Context(), r.PathValue("id"))
	if err != nil {
		s.missing(w, "compare the coats of a product", "product", err)
		return
	}
	s.show(w, r, http.StatusOK, shown{c.Title, "Pieces", "compare", compareView{Comparison: c}})
}
