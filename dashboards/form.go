package dashboards

import (
	"net/http"
	"net/url"
	"strings"
	"unicode/utf8"
)

// answers are a form as it was filled in, with what is wrong beside each field.
// What was typed is kept, whatever is wrong with it.
type answers struct {
	given url.Values
	wrong map[string]string // by key; "" is for the form as a whole
}

func blank() answers { return answers{url.Values{}, map[string]string{}} }

// readForm takes a form of at most limit bytes.
func readForm(w http.ResponseWriter, r *http.Request, limit int64) (answers, error) {
	r.Body = http.MaxBytesReader(w, r.Body, limit)
	if err := r.ParseForm(); err != nil {
		return answers{}, err
	}
	return answers{r.PostForm, map[string]string{}}, nil
}

// text is what was typed, on one line: the journal keeps no line breaks.
func (a answers) text(key string) string {
	return strings.TrimSpace(strings.ReplaceAll(strings.ReplaceAll(a.given.Get(key), "\r\n", " "), "\n", " "))
}

// fail notes what is wrong with a field; the first word on it stands.
func (a answers) fail(key, why string) {
	if a.wrong[key] == "" {
		a.wrong[key] = sentence(why)
	}
}

// readable notes what is no text: it would be kept as something else.
func (a answers) readable() {
	for key := range a.given {
		if !utf8.ValidString(a.given.Get(key)) {
			a.fail(key, "that is no text: type it again")
		}
	}
}

func (a answers) ok() bool { return len(a.wrong) == 0 }

// field is one line of a form.
type field struct {
	Key      string
	Label    string
	Hint     string
	Usual    string // shown where nothing is typed
	Type     string // of the input: "text" if empty; "area" is a text of several lines
	Mode     string // the keyboard a phone shows
	Needed   bool
	Longest  int
	Units    []option
	Options  []optionGroup // a list to choose from
	Value    string
	Unit     string
	Wrong    string
	Suggests []string // what may be meant, beside what is typed
	Keeps    bool     // what stood there before goes along
	Was      string
	WasUnit  string
}

type option struct{ ID, Label string }

// optionGroup is a part of a list, under a heading of its own if it has one.
type optionGroup struct {
	Title   string
	Options []option
}

// filled returns the field with what was typed into it.
func (a answers) filled(f field) field {
	f.Value, f.Unit, f.Wrong = a.given.Get(f.Key), a.given.Get(unitOf(f.Key)), a.wrong[f.Key]
	if f.Unit == "" && len(f.Units) > 0 {
		f.Unit = f.Units[0].ID
	}
	return f
}

func unitOf(key string) string { return key + "-unit" }

// amount is a figure with its unit behind it, such as "30m": what was typed with
// a unit of its own stands as it is.
func (a answers) amount(key string) string {
	typed := strings.ReplaceAll(strings.Replace(a.text(key), ",", ".", 1), " ", "")
	if typed == "" || strings.Trim(typed, "0123456789.-−+") != "" {
		return typed
	}
	return strings.Replace(typed, "−", "-", 1) + a.text(unitOf(key))
}

// kept returns the field with what was typed, and keeps what stood there when
// the form was made: only what differs from that is a change, so that two people
// who change different things lose nothing.
func (a answers) kept(f field) field {
	f = a.filled(f)
	f.Keeps, f.Was, f.WasUnit = true, f.Value, f.Unit
	if a.given.Has(wasOf(f.Key)) {
		f.Was, f.WasUnit = a.given.Get(wasOf(f.Key)), a.given.Get(wasOf(unitOf(f.Key)))
	}
	return f
}

func wasOf(key string) string { return "was-" + key }

// changed is what is typed in a field that a form kept, nil where it is as it
// was.
func (a answers) changed(key string) *string {
	if !a.differs(key) {
		return nil
	}
	text := a.text(key)
	return &text
}

func (a answers) differs(key string) bool {
	same := func(k string) bool { return a.text(k) == strings.TrimSpace(a.given.Get(wasOf(k))) }
	return a.given.Has(key) && (!same(key) || a.text(key) != "" && !same(unitOf(key)))
}
