package dashboards

import (
	"html"
	"net/url"
	"regexp"
	"strings"

	"recoat/internal/shop/schedule"
)

var (
	inputs   = regexp.MustCompile(`<input [^>]*name="([^"]+)"[^>]*>`)
	selects  = regexp.MustCompile(`(?s)<select [^>]*name="([^"]+)"[^>]*>(.*?)</select>`)
	selected = regexp.MustCompile(`<option value="([^"]*)" selected>`)
	valueIn  = regexp.MustCompile(`value="([^"]*)"`)
)

// typed is what a browser sends of the forms of a page when nothing is changed.
func typed(page string) url.Values {
	form := url.Values{}
	for _, m := range inputs.FindAllStringSubmatch(page, -1) {
		if strings.Contains(m[0], `type="checkbox"`) {
			continue
		}
		value := ""
		if v := valueIn.FindStringSubmatch(m[0]); v != nil {
			value = html.UnescapeString(v[1])
		}
		form.Set(m[1], value)
	}
	for _, m := range selects.FindAllStringSubmatch(page, -1) {
		value := ""
		if v := selected.FindStringSubmatch(m[2]); v != nil {
			value = html.UnescapeString(v[1])
		}
		form.Set(m[1], value)
	}
	return form
}

// steps are the steps of the first part, stages by their names.
func steps(parts []schedule.Part) [][]string {
	var all [][]string
	for _, s := range parts[0].Steps {
		step := []string{s.Title(), string(s.Kind), s.Product}
		for _, w := range s.Waits {
			stage := ""
			if w.Stage != nil {
				stage = w.Stage.String()
			}
			step = append(step, stage, w.Until, shortest(w.Times, 3), shortest(float64(w.LeastMin), 3), shortest(float64(w.Step), 0), shortest(float64(w.Part), 0))
		}
		all = append(all, step)
	}
	return all
}
