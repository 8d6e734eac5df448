package dashboards

import (
	"bytes"
	"io"
	"net/http"
	"strings"

	"recoat/drying"
	"recoat/internal/shop"
)

// maxUpload is how many bytes a product file sent by a browser may have, with
// what a browser puts around it.
const maxUpload = 80 << 10

func (s *server) productRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /products", s.productList)
	mux.HandleFunc("GET /products/new", s.productNew)
	mux.HandleFunc("POST /products", s.productAdd)
	mux.HandleFunc("POST /products/file", s.productUpload)
	mux.HandleFunc("GET /products/{id}", s.productShow)
	mux.HandleFunc("GET /products/{id}/edit", s.productEdit)
	mux.HandleFunc("POST /products/{id}", s.productChange)
	mux.HandleFunc("GET /products/{id}/label.toml", s.productFile)
}

// productsView is the list of products.
type productsView struct {
	Tabs     []navLink
	Products []productLine
	Filed    []filedLine
	Wrong    string // with a file that was sent
}

type productLine struct {
	ID, Name, Kind, Times string
}

func (s *server) productList(w http.ResponseWriter, r *http.Request) {
	s.showProducts(w, r, http.StatusOK, "")
}

func (s *server) showProducts(w http.ResponseWriter, r *http.Request, status int, wrong string) {
	products, err := s.book.Products.Products(r.Context())
	if err != nil {
		s.cannotRead(w, "list the products", err)
		return
	}
	view := productsView{Tabs: shelfTabs("Products"), Filed: s.filed(r.Context(), "product"), Wrong: wrong}
	for _, p := range products {
		view.Products = append(view.Products, s.words.productLine(p))
	}
	s.show(w, r, status, shown{"Products", "Shelf", "products", view})
}

func (w words) productLine(p shop.Product) productLine {
	recoat, _ := w.figureOf(p.Label, drying.DryToRecoat.LabelKey())
	air, _ := w.figureOf(p.Label, "stated.air")
	return productLine{ID: p.ID, Name: p.Label.Name, Kind: kindWords(p.Label.Family, p.Label.Kind), Times: "recoat after " + recoat.Words() + " at " + air.Words()}
}

// productFormView is a label to be filled in.
type productFormView struct {
	Action, Headline, Back string
	Name, Kind, Class      field
	Groups                 []labelGroupView
	Further                []labelGroupView // the label's table of other conditions
	Wrong                  string
	Known                  bool // the product is there: its name stays
}

type labelGroupView struct {
	Title, Lead string
	Fields      []field
	Filled      bool // of a row: something stands in it
}

func (s *server) productNew(w http.ResponseWriter, r *http.Request) {
	a := blank()
	a.given.Set("kind", r.URL.Query().Get("kind"))
	s.showLabelForm(w, r, http.StatusOK, s.labelForm(a))
}

// labelForm is the form with what was filled in. What is usual for the kind
// stands where nothing is typed, so that nobody takes it for the label's word.
func (s *server) labelForm(a answers) productFormView {
	v := productFormView{
		Action: "/products", Headline: "Copy a label", Back: "/products", Wrong: a.wrong[""],
		Name:  a.filled(field{Key: "name", Label: "Name on the can", Needed: true, Longest: shop.LongestName}),
		Kind:  a.filled(field{Key: "kind", Label: "What it is", Needed: true, Options: kindGroups()}),
		Class: a.filled(field{Key: "class", Label: "More exactly", Hint: "Only where it is one of these: it decides what may go over and under it.", Options: classOptions()}),
	}
	family, kind, _ := strings.Cut(a.text("kind"), "/")
	typical, err := shop.Preset(drying.Family(family), kind)
	for _, g := range labelGroups() {
		view := labelGroupView{Title: g.title, Lead: g.lead}
		for _, f := range g.fields {
			line := field{Key: f.key, Label: f.says, Hint: f.hint, Needed: f.needed, Mode: "decimal", Longest: 16, Units: s.words.units(f.takes)}
			line = a.filled(line)
			if figure, ok := s.words.figureOf(typical, f.key); err == nil && ok && !f.needed {
				line.Usual = "usually " + figure.Words()
				if line.Value == "" {
					line.Unit = figure.Unit
				}
			}
			view.Fields = append(view.Fields, line)
		}
		v.Groups = append(v.Groups, view)
	}
	v.Further = s.furtherRows(a)
	return v
}

func (s *server) showLabelForm(w http.ResponseWriter, r *http.Request, status int, v productFormView) {
	s.show(w, r, status, shown{v.Headline, "Shelf", "productform", v})
}

func (s *server) productAdd(w http.ResponseWriter, r *http.Request) {
	a, err := readForm(w, r, maxForm)
	if err != nil {
		s.tooLong(w)
		return
	}
	s.putLabel(w, r, a, s.labelForm)
}

// putLabel keeps what was typed, or shows it again with what is wrong.
func (s *server) putLabel(w http.ResponseWriter, r *http.Request, a answers, form func(answers) productFormView) {
	label, ok := a.label()
	if !ok {
		s.showLabelForm(w, r, http.StatusUnprocessableEntity, form(a))
		return
	}
	p, err := s.book.Products.PutProduct(r.Context(), label, s.now())
	if err != nil {
		if why, mine := inputFault(err); mine {
			a.fail("", why)
			s.showLabelForm(w, r, http.StatusUnprocessableEntity, form(a))
			return
		}
		s.notTaken(w, "keep a product", err)
		return
	}
	http.Redirect(w, r, "/products/"+p.ID+"?noted=product", http.StatusSeeOther)
}

func (s *server) productEdit(w http.ResponseWriter, r *http.Request) {
	p, ok := s.productAsked(w, r)
	if ok {
		s.showLabelForm(w, r, http.StatusOK, s.labelEdit(p)(s.words.answersOf(p.Label)))
	}
}

// labelEdit makes the form of a product that is there.
func (s *server) labelEdit(p shop.Product) func(answers) productFormView {
	return func(a answers) productFormView {
		a.given.Set("name", p.Label.Name)
		v := s.labelForm(a)
		v.Action, v.Back, v.Known, v.Headline = "/products/"+p.ID, "/products/"+p.ID, true, "Correct the label"
		return v
	}
}

func (s *server) productChange(w http.ResponseWriter, r *http.Request) {
	a, err := readForm(w, r, maxForm)
	if err != nil {
		s.tooLong(w)
		return
	}
	p, ok := s.productAsked(w, r)
	if !ok {
		return
	}
	a.given.Set("name", p.Label.Name)
	s.putLabel(w, r, a, s.labelEdit(p))
}

// answersOf fills the form with what a label says, and nothing that was assumed.
func (w words) answersOf(p drying.Product) answers {
	a := blank()
	a.given.Set("name", p.Name)
	a.given.Set("kind", kindID(p.Family, p.Kind))
	a.given.Set("class", p.Class)
	w.fillFurther(a, p.Further)
	for _, f := range labelFields() {
		figure, ok := w.figureOf(p, f.key)
		if ok && !p.IsAssumed(f.key) {
			a.given.Set(f.key, figure.Value)
			a.given.Set(unitOf(f.key), figure.Unit)
		}
	}
	return a
}

// productView is one product as its label states it.
type productView struct {
	ID, Name, Kind string
	Version        int64
	Since          string
	Groups         []saidGroup
	Assumed        bool // something was
	Cautions       []string
	Further        []saidLine // the label's table of other conditions
	Fit            string     // how well the reckoning keeps to that table
	Archived       string
}

type saidGroup struct {
	Title string
	Lines []saidLine
}

// saidLine is what a label says under one head.
type saidLine struct {
	Says, Value string
	Assumed     bool
	From        string // where the value comes from; empty: it was told
}

func (s *server) productShow(w http.ResponseWriter, r *http.Request) {
	p, ok := s.productAsked(w, r)
	if !ok {
		return
	}
	v := s.words.product(p)
	v.Fit = s.fitOf(p)
	s.show(w, r, http.StatusOK, shown{p.Label.Name, "Shelf", "product", v})
}

func (w words) product(p shop.Product) productView {
	v := productView{
		ID: p.ID, Name: p.Label.Name, Kind: kindWords(p.Label.Family, p.Label.Kind), Version: p.Version,
		Since: w.date(p.Added), Cautions: shop.Cautions(p.Label),
		Further: w.furtherSaid(p.Label), Archived: w.dateOrNone(p.Archived),
	}
	if p.Label.Class != "" {
		v.Kind += ", " + strings.ReplaceAll(p.Label.Class, "-", " ")
	}
	for _, g := range labelGroups() {
		group := saidGroup{Title: g.title}
		for _, f := range g.fields {
			figure, ok := w.figureOf(p.Label, f.key)
			if !ok {
				continue
			}
			line := saidLine{Says: f.says, Value: figure.Words(), Assumed: p.Label.IsAssumed(f.key)}
			v.Assumed = v.Assumed || line.Assumed
			group.Lines = append(group.Lines, line)
		}
		v.Groups = append(v.Groups, group)
	}
	return v
}

// productFile gives the label as a file that another shop can take.
func (s *server) productFile(w http.ResponseWriter, r *http.Request) {
	p, ok := s.productAsked(w, r)
	if !ok {
		return
	}
	var file bytes.Buffer
	if err := shop.SaveProduct(&file, p.Label); err != nil {
		s.cannotRead(w, "write a product file", err)
		return
	}
	w.Header().Set("Content-Type", "application/toml; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="`+p.ID+`.toml"`)
	_, _ = w.Write(file.Bytes()) // the asker may be gone; nothing is left to do
}

// productUpload takes a product file.
func (s *server) productUpload(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxUpload)
	file, header, err := r.FormFile("file")
	if err != nil {
		s.showProducts(w, r, http.StatusUnprocessableEntity, "Choose a product file first; it may have 64 kB.")
		return
	}
	defer func() { _ = file.Close() }()
	label, err := shop.LoadProduct(io.Reader(file), header.Filename)
	if err != nil {
		s.showProducts(w, r, http.StatusUnprocessableEntity, sentence(err.Error()))
		return
	}
	p, err := s.book.Products.PutProduct(r.Context(), label, s.now())
	if err != nil {
		s.notTaken(w, "keep a product", err)
		return
	}
	http.Redirect(w, r, "/products/"+p.ID+"?noted=product", http.StatusSeeOther)
}

// productAsked is the product that the address names; where there is none, that
// has been said.
func (s *server) productAsked(w http.ResponseWriter, r *http.Request) (shop.Product, bool) {
	p, err := s.book.Products.Product(r.Context(), r.PathValue("id"))
	if err != nil {
		s.missing(w, "read a product", "product", err)
	}
	return p, err == nil
}
