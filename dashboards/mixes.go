package dashboards

import (
	"fmt"
	"math/big"
	"net/http"
	"strings"

	"recoat/internal/shop"
	"recoat/internal/shop/mix"
)

func (s *server) mixRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /mixes", s.mixList)
	mux.HandleFunc("GET /mixes/new", s.mixNew)
	mux.HandleFunc("POST /mixes", s.mixAdd)
	mux.HandleFunc("GET /mixes/{id}", s.mixShow)
}

type mixesView struct {
	Tabs  []navLink
	Mixes []mixLine
	Filed []filedLine
}

type mixLine struct{ ID, Name, Parts string }

func (s *server) mixList(w http.ResponseWriter, r *http.Request) {
	mixes, err := s.book.Mixes.Mixes(r.Context())
	if err != nil {
		s.cannotRead(w, "list the mixes", err)
		return
	}
	view := mixesView{Tabs: shelfTabs("Mixes"), Filed: s.filed(r.Context(), "mix")}
	for _, m := range mixes {
		view.Mixes = append(view.Mixes, mixLine{m.ID, m.Name, recipeWords(m)})
	}
	s.show(w, r, http.StatusOK, shown{"Mixes", "Shelf", "mixes", view})
}

// recipeWords say a recipe in a line: "3 white to 1/2 umber, by volume".
func recipeWords(m shop.Mix) string {
	var parts []string
	for _, p := range m.Parts {
		parts = append(parts, p.Share.RatString()+" "+p.Name)
	}
	return strings.Join(parts, " to ") + ", " + basisWords(m.Basis)
}

func basisWords(b mix.Basis) string {
	if b == mix.ByMass {
		return "by weight"
	}
	return "by volume"
}

// mixRows is how many ingredients the form has room for.
const mixRows = 6

// mixFormView is a recipe to be filled in.
type mixFormView struct {
	Name, Basis field
	Rows        []mixRow
	Suggests    []string
	Wrong       string
}

type mixRow struct{ Name, Share field }

func (s *server) mixNew(w http.ResponseWriter, r *http.Request) {
	s.showMixForm(w, r, http.StatusOK, blank())
}

func (s *server) showMixForm(w http.ResponseWriter, r *http.Request, status int, a answers) {
	products, err := s.book.Products.Products(r.Context())
	if err != nil {
		s.cannotRead(w, "list the products", err)
		return
	}
	view := mixFormView{
		Name: a.filled(field{Key: "name", Label: "Name of the mix", Needed: true, Longest: shop.LongestName}),
		Basis: a.filled(field{Key: "basis", Label: "Measured", Needed: true, Options: []optionGroup{{Options: []option{
			{string(mix.ByVolume), "by volume: cups, spoons, mL"}, {string(mix.ByMass), "by weight: on a scale"},
		}}}}),
		Wrong: a.wrong[""],
	}
	for _, p := range products {
		view.Suggests = append(view.Suggests, p.Label.Name)
	}
	for i := range mixRows {
		view.Rows = append(view.Rows, mixRow{
			Name:  a.filled(field{Key: fmt.Sprintf("part%d", i+1), Label: fmt.Sprintf("Ingredient %d", i+1), Longest: shop.LongestName, Suggests: view.Suggests}),
			Share: a.filled(field{Key: fmt.Sprintf("share%d", i+1), Label: "Parts", Mode: "decimal", Longest: 20}),
		})
	}
	s.show(w, r, status, shown{"A new mix", "Shelf", "mixform", view})
}

func (s *server) mixAdd(w http.ResponseWriter, r *http.Request) {
	a, err := readForm(w, r, maxForm)
	if err != nil {
		s.tooLong(w)
		return
	}
	recipe := a.recipe()
	var m shop.Mix
	if a.ok() {
		m, err = s.book.Mixes.AddMix(r.Context(), recipe, s.now())
	}
	if why, mine := inputFault(err); mine {
		a.fail("", why)
	} else if err != nil {
		s.notTaken(w, "add a mix", err)
		return
	}
	if !a.ok() {
		s.showMixForm(w, r, http.StatusUnprocessableEntity, a)
		return
	}
	http.Redirect(w, r, "/mixes/"+m.ID+"?noted=mix", http.StatusSeeOther)
}

// recipe reads the form as a recipe. What is wrong stands beside its field.
func (a answers) recipe() mix.Recipe {
	r := mix.Recipe{Name: a.text("name"), Basis: mix.Basis(a.text("basis"))}
	if r.Name == "" {
		a.fail("name", "give the mix a name")
	}
	if r.Basis == "" {
		a.fail("basis", "choose how it is measured: the same parts by volume and by weight are different colours")
	}
	for i := range mixRows {
		nameKey, shareKey := fmt.Sprintf("part%d", i+1), fmt.Sprintf("share%d", i+1)
		name, share := a.text(nameKey), strings.Replace(a.text(shareKey), ",", ".", 1)
		if name == "" && share == "" {
			continue
		}
		if name == "" {
			a.fail(nameKey, "say what it is")
		}
		x, err := mix.ParseShare(share)
		if err != nil {
			a.fail(shareKey, "write parts such as 3, 1.5 or 1/2; nothing of it is no ingredient")
		}
		r.Parts = append(r.Parts, mix.Part{Name: name, Share: x})
	}
	if len(r.Parts) == 0 {
		a.fail("part1", "a mix has one ingredient at least")
	}
	return r
}

// mixView is one recipe, scaled to an amount.
type mixView struct {
	ID, Name, Basis, Unit string
	Amount                field
	Lines                 []mixAmount
	Scaled                string // to how much; empty: not
	Archived              string // since when; empty: it is not
}

// mixAmount is one ingredient. How is the sum that its amount is.
type mixAmount struct{ Name, Parts, Amount, How string }

func (s *server) mixShow(w http.ResponseWriter, r *http.Request) {
	m, err := s.book.Mixes.Mix(r.Context(), r.PathValue("id"))
	if err != nil {
		s.missing(w, "read a mix", "mix", err)
		return
	}
	view := mixShown(m, r.URL.Query().Get("amount"))
	view.Archived = s.words.dateOrNone(m.Archived)
	s.show(w, r, http.StatusOK, shown{m.Name, "Shelf", "mix", view})
}

// mixShown scales a recipe to an amount, exactly; with none it shows the parts.
func mixShown(m shop.Mix, typed string) mixView {
	v := mixView{ID: m.ID, Name: m.Name, Basis: basisWords(m.Basis), Unit: "mL"}
	if m.Basis == mix.ByMass {
		v.Unit = "g"
	}
	v.Amount = field{Key: "amount", Label: "Scale it to", Mode: "decimal", Longest: 20, Value: typed, Units: []option{{v.Unit, v.Unit}}, Unit: v.Unit}
	var amounts []*big.Rat
	if typed != "" {
		whole, err := mix.ParseShare(strings.Replace(strings.TrimSpace(typed), ",", ".", 1))
		if err == nil {
			amounts, err = m.Scale(whole)
		}
		if err != nil {
			v.Amount.Wrong = "Write an amount above 0, such as 250, 62.5 or 1/2."
		} else {
			v.Scaled = exact(whole) + " " + v.Unit
		}
	}
	for i, p := range m.Parts {
		line := mixAmount{Name: p.Name, Parts: p.Share.RatString()}
		if amounts != nil {
			line.Amount = exact(amounts[i]) + " " + v.Unit
			line.How = fmt.Sprintf("%s: %s × %s of %s parts in all is %s.", p.Name, v.Scaled, line.Parts, m.Total().RatString(), line.Amount)
		}
		v.Lines = append(v.Lines, line)
	}
	return v
}

// exact writes an amount out whole where its decimals end, else to the third
// with the fraction behind it.
func exact(x *big.Rat) string {
	if digits, ends := x.FloatPrec(); ends && digits <= 6 {
		return x.FloatString(digits)
	}
	return "about " + strings.TrimRight(strings.TrimRight(x.FloatString(3), "0"), ".") + " (" + x.RatString() + ")"
}
