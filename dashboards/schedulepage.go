package dashboards

import (
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"sort"
	"strconv"
	"strings"

	"recoat/drying"
	"recoat/internal/shop"
	"recoat/internal/shop/schedule"
)

// maxSchedule is how many bytes the form of a schedule may have.
const maxSchedule = 192 << 10

// spareSteps is how many empty lines a schedule's form has at its end.
const spareSteps = 2

// scheduleView is the schedule of a part to be changed.
type scheduleView struct {
	Part, Piece, Name string
	Templates         []schedule.Template
	Steps             []stepForm
	Begun             bool // a step is done: no template takes its place
	Wrong             string
}

// stepForm is one step to be changed.
type stepForm struct {
	Number int // in the form, from 1
	Title  string
	Done   bool
	Fresh  bool
	Fields []field
	Gates  []field
	ID     string
	Of     string // the id of the step whose coat it waits for; empty: the one before
	Keep   string // the waits that the form does not show, as JSON
}

func (s *server) scheduleShow(w http.ResponseWriter, r *http.Request) {
	s.showSchedule(w, r, http.StatusOK, blank())
}

func (s *server) showSchedule(w http.ResponseWriter, r *http.Request, status int, a answers) {
	piece, part, ok := s.partOfPiece(w, r)
	if !ok {
		return
	}
	parts, err := s.book.Steps.Schedules(r.Context(), piece.ID)
	if err != nil {
		s.cannotRead(w, "read a schedule", err)
		return
	}
	products, err := s.book.Products.Products(r.Context())
	if err != nil {
		s.cannotRead(w, "list the products", err)
		return
	}
	view := scheduleView{Part: part.ID, Piece: piece.ID, Name: piece.Name + ", " + part.Name, Templates: schedule.Templates(), Wrong: a.wrong[""]}
	for _, p := range parts {
		if p.ID == part.ID {
			view.Begun = len(p.Marks) > 0
			view.Steps = stepForms(a, p, parts, products)
		}
	}
	s.show(w, r, status, shown{"Finishing schedule", "Pieces", "schedule", view})
}

// stepForms are the steps of a part and some empty ones. After a fault they
// hold what was typed.
func stepForms(a answers, p schedule.Part, parts []schedule.Part, products []shop.Product) []stepForm {
	var all []stepForm
	for i, step := range append(slices.Clone(p.Steps), make([]schedule.Step, spareSteps)...) {
		f := stepForm{Number: i + 1, Fresh: step.ID == 0, ID: strconv.Itoa(step.ID)}
		if !f.Fresh {
			_, f.Done = p.Marks[step.ID]
			f.Title = step.Title()
		}
		if !a.given.Has(fmt.Sprintf("kind-%d", f.Number)) {
			fillStep(a, f.Number, step)
		}
		f.Keep, f.Of = keptWaits(step), a.text(fmt.Sprintf("of-%d", f.Number))
		f.Fields, f.Gates = stepFields(a, f.Number, p, parts, products)
		all = append(all, f)
	}
	return all
}

// own is the place of the wait for a step of the same part that the form shows;
// -1: none.
func own(s schedule.Step) int {
	return slices.IndexFunc(s.Waits, func(w schedule.Wait) bool { return w.Part == 0 })
}

// isGate reports whether a wait is for another part's last coat, as the form shows
// it.
func isGate(w schedule.Wait) bool {
	return w.Part > 0 && w.Step == 0 && w.Stage != nil && w.Times == 0 && w.LeastMin == 0 && w.Until == ""
}

// keptWaits are the waits of a step that the form does not show.
func keptWaits(s schedule.Step) string {
	kept := []schedule.Wait{}
	for i, w := range s.Waits {
		if i != own(s) && !isGate(w) {
			kept = append(kept, w)
		}
	}
	if len(kept) == 0 {
		return ""
	}
	text, err := json.Marshal(kept)
	if err != nil {
		return "" // numbers and text always have JSON
	}
	return string(text)
}

func fillStep(a answers, n int, s schedule.Step) {
	set := func(key, value string) { a.given.Set(fmt.Sprintf("%s-%d", key, n), value) }
	set("kind", string(s.Kind))
	set("words", s.Words)
	set("product", s.Product)
	set("order", strconv.Itoa(n*10))
	var grits []string
	for _, g := range s.Grits {
		grits = append(grits, strconv.Itoa(g))
	}
	set("grits", strings.Join(grits, ", "))
	if i := own(s); i >= 0 {
		w := s.Waits[i]
		set("of", strconv.Itoa(w.Step))
		if w.Stage != nil {
			set("stage", w.Stage.String())
		}
		if w.Times > 0 {
			set("times", shortest(w.Times, 2))
		}
		if w.LeastMin > 0 {
			set("least", shortest(float64(w.LeastMin)/60, 2))
		}
		set("until", w.Until)
	}
	for _, w := range s.Waits {
		if isGate(w) {
			set(fmt.Sprintf("gate%d", w.Part), w.Stage.String())
		}
	}
}

func stepFields(a answers, n int, p schedule.Part, parts []schedule.Part, products []shop.Product) (fields, gates []field) {
	key := func(name string) string { return fmt.Sprintf("%s-%d", name, n) }
	var kinds []option
	for _, k := range schedule.Kinds() {
		kinds = append(kinds, option{string(k), capital(string(k))})
	}
	stages := []optionGroup{{Options: stageOptions()}}
	fields = []field{
		{Key: key("kind"), Label: "What is done", Options: []optionGroup{{Options: kinds}}},
		{Key: key("words"), Label: "In your words", Longest: schedule.LongestWords},
		{Key: key("grits"), Label: "Grits", Hint: "Of sanding, the coarsest first.", Mode: "numeric", Longest: 60, Usual: "150, 220"},
		{Key: key("product"), Label: "Product", Hint: "Empty: chosen when it is put on.", Options: productOptions(products)},
		{Key: key("stage"), Label: "Waits until the coat before is", Options: stages},
		{Key: key("times"), Label: "Times as long", Hint: "Such as 3, over an oil stain.", Mode: "decimal", Longest: 5},
		{Key: key("least"), Label: "At least", Mode: "decimal", Longest: 6, Units: []option{{"h", "hours"}}},
		{Key: key("until"), Label: "And until", Hint: "What no clock can tell, such as: it smells of nothing.", Longest: schedule.LongestWords},
		{Key: key("order"), Label: "Place", Hint: "A smaller number comes earlier.", Mode: "numeric", Longest: 6},
	}
	for i := range fields {
		fields[i] = a.filled(fields[i])
	}
	for _, other := range parts {
		if other.Number != p.Number {
			gates = append(gates, a.filled(field{Key: key(fmt.Sprintf("gate%d", other.Number)), Label: "Waits until " + other.Name + " is", Options: stages}))
		}
	}
	return fields, gates
}

func (s *server) scheduleChange(w http.ResponseWriter, r *http.Request) {
	a, err := readForm(w, r, maxSchedule)
	if err != nil {
		s.tooLong(w)
		return
	}
	_, part, ok := s.partOfPiece(w, r)
	if !ok {
		return
	}
	steps := a.steps()
	if a.ok() {
		ctx, _ := s.tapped(r, a)
		err = s.book.Steps.SetSchedule(ctx, part.ID, a.text("template"), steps, s.now())
	}
	if why, mine := inputFault(err); mine {
		a.fail("", why)
	} else if err != nil {
		s.notTaken(w, "set a schedule", err)
		return
	}
	if !a.ok() {
		s.showSchedule(w, r, http.StatusUnprocessableEntity, a)
		return
	}
	http.Redirect(w, r, "/pieces/"+pieceOf(part.ID)+"?noted=schedule", http.StatusSeeOther)
}

func pieceOf(part string) string {
	piece, _, _ := strings.Cut(part, ".")
	return piece
}

// steps reads the form as steps, in the order of their places.
func (a answers) steps() []schedule.Step {
	type placed struct {
		at   int
		step schedule.Step
	}
	a.readable()
	var all []placed
	for n := 1; n <= schedule.MostSteps+spareSteps && a.given.Has(fmt.Sprintf("kind-%d", n)); n++ {
		get := func(name string) string { return a.text(fmt.Sprintf("%s-%d", name, n)) }
		if get("kind") == "" || get("remove") != "" {
			continue
		}
		at, err := strconv.Atoi(get("order"))
		if err != nil {
			a.fail(fmt.Sprintf("order-%d", n), "write a whole number, such as 20")
		}
		all = append(all, placed{at, a.step(n)})
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].at < all[j].at })
	steps := make([]schedule.Step, len(all))
	for i, p := range all {
		steps[i] = p.step
	}
	numberSteps(steps)
	return steps
}

// numberSteps gives new steps their ids, and waits for the coat before the id of that
// step.
func numberSteps(steps []schedule.Step) {
	highest, coat := 0, 0
	for _, s := range steps {
		highest = max(highest, s.ID)
	}
	for i := range steps {
		if steps[i].ID == 0 {
			highest++
			steps[i].ID = highest
		}
		for k, w := range steps[i].Waits {
			if w.Part == 0 && w.Step == 0 {
				steps[i].Waits[k].Step = coat
			}
		}
		if steps[i].Kind.Coats() {
			coat = steps[i].ID
		}
	}
}

// step reads one step.
func (a answers) step(n int) schedule.Step {
	key := func(name string) string { return fmt.Sprintf("%s-%d", name, n) }
	s := schedule.Step{Kind: schedule.Kind(a.text(key("kind"))), Words: a.text(key("words")), Product: a.text(key("product"))}
	s.ID = a.whole(key("id"))
	for text := range strings.FieldsFuncSeq(a.text(key("grits")), func(r rune) bool { return r == ',' || r == ' ' || r == ';' }) {
		grit, err := strconv.Atoi(text)
		if err != nil {
			a.fail(key("grits"), "write grits such as 150, 220")
		}
		s.Grits = append(s.Grits, grit)
	}
	if w := a.wait(key); w != (schedule.Wait{}) {
		w.Step = a.whole(key("of"))
		s.Waits = append(s.Waits, w)
	}
	for part := 1; part <= mostGates; part++ {
		if stage := a.stage(key(fmt.Sprintf("gate%d", part))); stage != nil {
			s.Waits = append(s.Waits, schedule.Wait{Part: part, Stage: stage})
		}
	}
	if kept := a.given.Get(key("keep")); kept != "" {
		var waits []schedule.Wait
		decoder := json.NewDecoder(strings.NewReader(kept))
		decoder.DisallowUnknownFields()
		if err := decoder.Decode(&waits); err != nil {
			a.fail("", "a step's waits came back altered: open the schedule again")
		}
		s.Waits = append(s.Waits, waits...)
	}
	return s
}

// mostGates is how many parts of a piece the form can wait for.
const mostGates = 100

// wait reads what a step waits for on its own part, without the step it is of.
func (a answers) wait(key func(string) string) schedule.Wait {
	w := schedule.Wait{Stage: a.stage(key("stage")), Until: a.text(key("until"))}
	if text := a.text(key("times")); text != "" {
		v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
		if err != nil {
			a.fail(key("times"), "write a figure such as 3")
		}
		w.Times = v
	}
	if text := a.text(key("least")); text != "" {
		v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
		if err != nil || !(v >= 0 && v <= 9000) {
			a.fail(key("least"), "write hours, such as 24")
			v = 0
		}
		w.LeastMin = int64(v * 60)
	}
	return w
}

// stage reads a field as a stage, nil for none.
func (a answers) stage(key string) *drying.Stage {
	text := a.text(key)
	if text == "" {
		return nil
	}
	var stage drying.Stage
	if err := stage.UnmarshalText([]byte(text)); err != nil {
		a.fail(key, "choose a stage")
	}
	return &stage
}

func (a answers) whole(key string) int {
	if a.text(key) == "" {
		return 0
	}
	n, err := strconv.Atoi(a.text(key))
	if err != nil {
		a.fail(key, "write a whole number")
	}
	return n
}

// scheduleBegin gives a part the steps of a template.
func (s *server) scheduleBegin(w http.ResponseWriter, r *http.Request) {
	a, err := readForm(w, r, maxForm)
	if err != nil {
		s.tooLong(w)
		return
	}
	_, part, ok := s.partOfPiece(w, r)
	if !ok {
		return
	}
	if err := s.begin(r.Context(), shop.Piece{Parts: []shop.Part{part}}, a.text("template")); err != nil {
		s.notTaken(w, "begin a schedule", err)
		return
	}
	http.Redirect(w, r, "/parts/"+part.ID+"/schedule?noted=schedule", http.StatusSeeOther)
}
