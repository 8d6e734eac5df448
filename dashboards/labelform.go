package dashboards

import (
	"encoding/json"
	"slices"
	"sort"
	"strings"

	"recoat/drying"
	"recoat/internal/shop"
)

// labelField is one thing that a label says: the key of a product file, and the
// words in which labels say it.
type labelField struct {
	key    string
	says   string
	hint   string
	takes  quantityKind
	needed bool
}

// quantityKind is what a figure on a label is a figure of.
type quantityKind int

const (
	takesText quantityKind = iota
	takesTemperature
	takesDifference
	takesHumidity
	takesFilm
	takesSpan
)

// labelGroup is a paragraph of a label.
type labelGroup struct {
	title, lead string
	fields      []labelField
}

// labelGroups are the fields of a label in the order in which labels say them.
func labelGroups() []labelGroup {
	return []labelGroup{
		{"The conditions its times hold at", "Labels say it small, often under the times: “at 23 °C and 50 % relative humidity”. Take the technical sheet if the can is silent.", []labelField{
			{"stated.air", "Temperature", "", takesTemperature, true},
			{"stated.rh", "Relative humidity", "", takesHumidity, true},
			{"stated.film", "Wet film", "The thickness the times are given for.", takesFilm, false},
		}},
		{"How long it takes", "Where the label gives a span, take the longer time. Leave out what it does not say.", []labelField{
			{"stated.touch", "Touch dry", "", takesSpan, false},
			{"stated.dust_free", "Dust-free", "", takesSpan, false},
			{"stated.tack_free", "Tack-free", "", takesSpan, false},
			{"stated.sand", "Can be sanded", "", takesSpan, false},
			{"stated.recoat", "Recoat after", "All else hangs on it.", takesSpan, true},
			{"stated.recoat_by", "Recoat within, or abrade", "Only if the label sets such a limit.", takesSpan, false},
			{"stated.handle", "Can be handled", "", takesSpan, false},
			{"stated.cure", "Full hardness", "", takesSpan, false},
		}},
		{"When not to use it", "The label’s “do not apply below”. What is left out is taken from what is usual for its kind.", []labelField{
			{"limits.air_min", "Not below", "", takesTemperature, false},
			{"limits.air_max", "Not above", "", takesTemperature, false},
			{"limits.rh_min", "Humidity at least", "Some finishes need water from the air.", takesHumidity, false},
			{"limits.rh_max", "Humidity at most", "", takesHumidity, false},
			{"limits.dew_margin_min", "Surface above the dew point by", "", takesDifference, false},
			{"limits.air_dew_min", "Air above the dew point by", "Against blushing; few labels say it.", takesDifference, false},
			{"limits.film_forms_above", "Film forms above", "", takesTemperature, false},
		}},
	}
}

// labelFields are the fields of every group.
func labelFields() []labelField {
	var all []labelField
	for _, g := range labelGroups() {
		all = append(all, g.fields...)
	}
	return all
}

// units are what a figure may be given in, the shop's own first.
func (w words) units(k quantityKind) []option {
	var all []option
	switch k {
	case takesTemperature:
		all = []option{{"C", "°C"}, {"F", "°F"}}
	case takesDifference:
		all = []option{{"K", "°C (K)"}, {"F", "°F"}}
	case takesFilm:
		all = []option{{"um", "µm"}, {"mil", "mil"}}
	case takesHumidity:
		return []option{{"%", "%"}}
	case takesSpan:
		return []option{{"h", "hours"}, {"m", "minutes"}, {"d", "days"}}
	}
	if w.fahrenheit {
		slices.Reverse(all)
	}
	return all
}

// labelFile writes what was typed as a product file: the page takes exactly
// what the shell takes.
func (a answers) labelFile() string {
	var b strings.Builder
	family, kind, _ := strings.Cut(a.text("kind"), "/")
	b.WriteString("name = " + tomlString(a.text("name")) + "\n")
	b.WriteString("family = " + tomlString(family) + "\n")
	if kind != "" {
		b.WriteString("kind = " + tomlString(kind) + "\n")
	}
	if class := a.text("class"); class != "" {
		b.WriteString("class = " + tomlString(class) + "\n")
	}
	table := ""
	for _, f := range labelFields() {
		value := a.amount(f.key)
		if value == "" {
			continue
		}
		in, word, _ := strings.Cut(f.key, ".")
		if in != table {
			if table == "stated" {
				b.WriteString(a.furtherFile())
			}
			table = in
			b.WriteString("\n[" + in + "]\n")
		}
		b.WriteString(word + " = " + tomlString(value) + "\n")
	}
	if table == "stated" {
		b.WriteString(a.furtherFile())
	}
	return b.String()
}

// tomlString quotes text: every string of JSON is one of TOML.
func tomlString(text string) string {
	quoted, err := json.Marshal(text)
	if err != nil {
		return `""` // a string always has JSON
	}
	return string(quoted)
}

// label reads the form as a label. What is wrong stands beside its field.
func (a answers) label() (drying.Product, bool) {
	a.readable()
	for _, f := range labelFields() {
		if f.needed && a.text(f.key) == "" {
			a.fail(f.key, "the times need it: write what the label says")
		}
	}
	for _, f := range labelFields() {
		if value := a.amount(f.key); value != "" && !strings.ContainsAny(value, "0123456789") {
			a.fail(f.key, "that is no figure: write one such as 2 or 2.5, and choose its unit beside it")
		}
	}
	if a.text("name") == "" {
		a.fail("name", "write the name on the can")
	}
	if a.text("kind") == "" {
		a.fail("kind", "choose what it is")
	}
	if !a.ok() {
		return drying.Product{}, false
	}
	p, err := shop.LoadProduct(strings.NewReader(a.labelFile()), "the label")
	if err != nil {
		a.blame(err)
		return drying.Product{}, false
	}
	return p, true
}

// blame puts each line of an error beside the field whose key it names.
func (a answers) blame(err error) {
	for line := range strings.SplitSeq(strings.TrimPrefix(err.Error(), "the label: "), "\n") {
		if strings.HasPrefix(line, "line ") {
			_, line, _ = strings.Cut(line, ": ")
		}
		key := keyIn(line)
		a.fail(key, inLabelWords(strings.TrimPrefix(strings.TrimPrefix(line, key+" "), key+": ")))
	}
}

// keyIn is the key that a line of an error speaks of first.
func keyIn(line string) string {
	first, at := "", len(line)
	for _, key := range append(keys(), "name", "family", "kind", "class") {
		if i := strings.Index(line, key); i >= 0 && (i < at || i == at && len(key) > len(first)) {
			first, at = key, i
		}
	}
	switch {
	case at > len("the label: "):
		return ""
	case first == "family":
		return "kind"
	}
	return first
}

func keys() []string {
	var all []string
	for _, f := range labelFields() {
		all = append(all, f.key)
	}
	return all
}

// inLabelWords puts the label's words where an error has a file's keys.
func inLabelWords(line string) string {
	fields := labelFields()
	sort.Slice(fields, func(i, j int) bool { return len(fields[i].key) > len(fields[j].key) })
	for _, f := range fields {
		line = strings.ReplaceAll(line, f.key, "“"+f.says+"”")
	}
	return line
}
