package dashboards

import (
	"fmt"
	"strings"

	"recoat/drying"
	"recoat/internal/shop"
	"recoat/internal/shop/compat"
)

// Some labels hold a small table: the same times at other conditions. Each row
// of it is a fold of the form.

// spareRows is how many empty rows the form has beyond those that are filled.
const spareRows = 2

// rowKey is the key of one figure of a row, from 1.
func rowKey(row int, word string) string { return fmt.Sprintf("also%d.%s", row, word) }

// rowFields are the fields of one row: its conditions, then the stages.
func rowFields(row int) []labelField {
	all := []labelField{
		{key: rowKey(row, "air"), says: "Temperature", takes: takesTemperature},
		{key: rowKey(row, "rh"), says: "Relative humidity", takes: takesHumidity},
	}
	for _, s := range drying.Stages() {
		all = append(all, labelField{key: rowKey(row, stageWord(s)), says: sayingOf(s), takes: takesSpan})
	}
	return all
}

// rowWords are what the figures of a row are called in a product file, in the
// order of rowFields.
func rowWords() []string {
	words := []string{"air", "rh"}
	for _, s := range drying.Stages() {
		words = append(words, stageWord(s))
	}
	return words
}

// stageWord is the word of a stage in a row of a product file.
func stageWord(s drying.Stage) string { return strings.TrimPrefix(s.LabelKey(), "stated.") }

// sayingOf is how the form asks for a stage.
func sayingOf(s drying.Stage) string {
	for _, f := range labelFields() {
		if f.key == s.LabelKey() {
			return f.says
		}
	}
	return stageWords[s].state
}

// furtherFile writes the rows that are filled as a product file does.
func (a answers) furtherFile() string {
	var rows []string
	for row := 1; row <= drying.MostFurther; row++ {
		var said []string
		for _, word := range rowWords() {
			if value := a.amount(rowKey(row, word)); value != "" {
				said = append(said, word+" = "+tomlString(value))
			}
		}
		if len(said) > 0 {
			rows = append(rows, "  {"+strings.Join(said, ", ")+"},")
		}
	}
	if len(rows) == 0 {
		return ""
	}
	return "also = [\n" + strings.Join(rows, "\n") + "\n]\n"
}

// fillFurther fills the form with the rows of a label.
func (w words) fillFurther(a answers, rows []drying.Further) {
	for i, row := range rows {
		set := func(word string, f figure) {
			a.given.Set(rowKey(i+1, word), f.Value)
			a.given.Set(unitOf(rowKey(i+1, word)), f.Unit)
		}
		set("air", w.temperatureFigure(row.Air))
		set("rh", humidityFigure(row.Humidity))
		for _, s := range drying.Stages() {
			if row.Times[s] > 0 {
				set(stageWord(s), spanFigure(row.Times[s]))
			}
		}
	}
}

// furtherRows are the rows of the form: those that hold something, and some
// empty ones.
func (s *server) furtherRows(a answers) []labelGroupView {
	filled := 0
	for row := 1; row <= drying.MostFurther; row++ {
		for _, word := range rowWords() {
			if a.text(rowKey(row, word)) != "" {
				filled = row
			}
		}
	}
	var rows []labelGroupView
	for row := 1; row <= min(filled+spareRows, drying.MostFurther); row++ {
		v := labelGroupView{Title: fmt.Sprintf("Row %d", row), Filled: row <= filled}
		for _, f := range rowFields(row) {
			v.Fields = append(v.Fields, a.filled(field{Key: f.key, Label: f.says, Mode: "decimal", Longest: 16, Units: s.words.units(f.takes)}))
		}
		rows = append(rows, v)
	}
	return rows
}

// furtherSaid are the rows of a product, as its page shows them.
func (w words) furtherSaid(p drying.Product) []saidLine {
	var all []saidLine
	for _, row := range p.Further {
		var times []string
		for _, s := range drying.Stages() {
			if row.Times[s] > 0 {
				times = append(times, clause(sayingOf(s))+" "+spanFigure(row.Times[s]).Words())
			}
		}
		all = append(all, saidLine{Says: "At " + w.temperatureFigure(row.Air).Words() + ", " + humidityFigure(row.Humidity).Words(), Value: strings.Join(times, ", ")})
	}
	return all
}

// classOptions say more exactly what a product is, where the label's kind cannot.
func classOptions() []optionGroup {
	var all []option
	for _, c := range []compat.Class{
		compat.OilStain, compat.GelStain, compat.WaterStain, compat.DewaxedShellac, compat.WaxyShellac, compat.SolventTwoPart, compat.WaterTwoPart,
		compat.ThinSealer, compat.PasteFiller, compat.VarnishFiller, compat.WaterFiller, compat.BodyFiller, compat.Wax,
	} {
		all = append(all, option{string(c), capital(strings.ReplaceAll(string(c), "-", " "))})
	}
	return []optionGroup{{Options: all}}
}

// fitOf says how well the reckoning keeps to a label with several conditions.
func (s *server) fitOf(p shop.Product) string {
	fit, err := p.Label.LabelFit()
	if err != nil {
		s.log.Error("fit a label", "product", p.ID, "err", err)
	}
	return fit.Sentence()
}
