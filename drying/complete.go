package drying

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"recoat/sensors"
)

// Complete returns the product with everything that the label does not say
// taken from its kind and listed in Assumed. It refuses a product without a
// family, stated air, stated humidity or any stage time, and one whose figures
// contradict each other; the error names every label key that is wrong and
// what would be right. Completing a product twice changes nothing more.
func (p Product) Complete() (Product, error) {
	k, err := findKind(p.Family, p.Kind)
	if err != nil {
		return p, err
	}
	if err := errors.Join(p.checkStated(), p.checkTimes(), p.checkFurther()); err != nil {
		return p, err
	}
	c := &completion{Product: p}
	c.Assumed = slices.Clone(p.Assumed)
	if p.Kind == "" {
		c.Kind = k.name
		c.assume("kind")
	}
	if c.missing("stated.film", float64(p.Stated.Film)) {
		c.Stated.Film = k.film
	}
	c.fillTimes(k)
	c.fillLimits(k.limits)
	if err := c.Limits.Check(); err != nil {
		return p, err
	}
	if err := c.agree(k, "stated", c.Stated.conditions()); err != nil {
		return p, err
	}
	for i, row := range c.Further {
		if err := c.agree(k, fmt.Sprintf("stated.also[%d]", i), row.conditions()); err != nil {
			return p, err
		}
	}
	return c.Product, nil
}

// completion is a product on its way to being complete.
type completion struct{ Product }

func (c *completion) assume(key string) {
	if !c.IsAssumed(key) {
		c.Assumed = append(c.Assumed, key)
	}
}

// missing reports whether the label leaves a key out, and marks it as assumed.
func (c *completion) missing(key string, value float64) bool {
	if value != 0 || slices.Contains(c.Given, key) {
		return false
	}
	c.assume(key)
	return true
}

// anchors are the stages whose stated time best scales all others, best first.
var anchors = [...]Stage{DryToRecoat, Sandable, Handle, TackFree, DustFree, SetToTouch}

// fillTimes scales the kind's usual times to those stated. The cure is not
// scaled: a label that dries fast does not cure fast.
func (c *completion) fillTimes(k kind) {
	times := c.Stated.Times
	by := 1.0
	for _, s := range anchors {
		if times[s] > 0 {
			by = float64(times[s]) / float64(k.typical[s])
			break
		}
	}
	for _, s := range Stages() {
		if times[s] > 0 {
			continue
		}
		usual := k.typical[s]
		if s != Cured {
			usual = scale(usual, by).Round(time.Second)
		}
		usual = between(usual, s, times)
		if by := c.Stated.RecoatBy; s == DryToRecoat && by > 0 {
			usual = min(usual, by/2)
		}
		c.Stated.Times[s] = usual
		c.assume(s.LabelKey())
	}
}

// between keeps an assumed time no shorter than those stated for earlier
// stages and no longer than those stated for later ones. Sanding, recoating
// and handling come in any order.
func between(usual time.Duration, s Stage, stated [StageCount]time.Duration) time.Duration {
	for _, o := range Stages() {
		switch {
		case stated[o] == 0:
		case rank(o) < rank(s):
			usual = max(usual, stated[o])
		case rank(o) > rank(s):
			usual = min(usual, stated[o])
		}
	}
	return usual
}

// rank orders the stages as far as every finish reaches them in that order.
func rank(s Stage) int {
	switch s {
	case Sandable, DryToRecoat, Handle:
		return int(Sandable)
	}
	return int(s)
}

func (c *completion) fillLimits(usual Limits) {
	l := &c.Limits
	if c.missing("limits.air_min", float64(l.AirMin)) {
		l.AirMin = usual.AirMin
	}
	if c.missing("limits.air_max", float64(l.AirMax)) {
		l.AirMax = usual.AirMax
	}
	if usual.HumidityMin > 0 && c.missing("limits.rh_min", float64(l.HumidityMin)) {
		l.HumidityMin = usual.HumidityMin
	}
	if c.missing("limits.rh_max", float64(l.HumidityMax)) {
		l.HumidityMax = usual.HumidityMax
	}
	if c.missing("limits.dew_margin_min", float64(l.DewMarginMin)) {
		l.DewMarginMin = usual.DewMarginMin
	}
	if usual.AirMarginMin > 0 && c.missing("limits.air_dew_min", float64(l.AirMarginMin)) {
		l.AirMarginMin = usual.AirMarginMin
	}
	if usual.HasFilmForms && !l.HasFilmForms {
		// A label's lowest air temperature allows for the film to form.
		l.FilmFormsAbove = min(usual.FilmFormsAbove, l.AirMin-filmBelowAir)
		l.HasFilmForms = true
		c.assume("limits.film_forms_above")
	}
}

// filmBelowAir is how far a film is taken to form below the lowest air
// temperature of a label that does not say: evaporation cools it by that much.
const filmBelowAir sensors.Celsius = 2

// agree refuses limits that would forbid the very conditions in which the
// label's times hold, and gives way where such a limit is only assumed.
func (c *completion) agree(k kind, where string, at Conditions) error {
	law := k.law()
	m := newMoist(at, law.wet)
	var wrong []error
	for _, b := range boundsOf(c.Limits, law.humidityBand, law.wet > 0) {
		v := b.value(&m)
		switch {
		case b.margin(v) >= 0:
		case c.IsAssumed(b.key):
			c.relax(b.key, v)
		default:
			wrong = append(wrong, fmt.Errorf("%s is %s: the label's own conditions (%s.air %v °C, %s.rh %v %%) give %s, which it has to allow",
				b.key, b.show(b.limit), where, at.Air, where, at.Humidity, b.show(v)))
		}
	}
	return errors.Join(wrong...)
}

// relax moves a limit to where the label's own conditions just keep it.
func (c *completion) relax(key string, v float64) {
	l := &c.Limits
	switch key {
	case "limits.air_min":
		l.AirMin = sensors.Celsius(v)
	case "limits.air_max":
		l.AirMax = sensors.Celsius(v)
	case "limits.rh_min":
		l.HumidityMin = sensors.RelativeHumidity(v)
	case "limits.rh_max":
		l.HumidityMax = max(l.HumidityMax, sensors.RelativeHumidity(v))
	case "limits.dew_margin_min":
		l.DewMarginMin = sensors.Kelvins(v)
	case "limits.air_dew_min":
		l.AirMarginMin = sensors.Kelvins(v)
	case "limits.film_forms_above":
		l.FilmFormsAbove = sensors.Celsius(v)
	}
}

const (
	maxFilm  Microns = 3000
	longest          = 2 * 365 * day
	shortest         = time.Minute
)

// span refuses a figure outside what can be meant.
func span(key string, v, low, high float64, unit string) error {
	if math.IsNaN(v) || v < low || v > high {
		return fmt.Errorf("%s is %v %s: %v to %v %s would do", key, v, unit, low, high, unit)
	}
	return nil
}

func (p Product) checkStated() error {
	film := p.Stated.Film
	if film == 0 {
		film = 1 // not stated
	}
	return errors.Join(
		span("stated.air", float64(p.Stated.Air), 5, 40, "°C"),
		span("stated.rh", float64(p.Stated.Humidity), 5, 90, "%"),
		span("stated.film", float64(film), 1, float64(maxFilm), "µm"),
	)
}

func (p Product) checkTimes() error {
	var wrong []error
	stated := false
	longestStated := time.Duration(0)
	for _, s := range Stages() {
		t := p.Stated.Times[s]
		if t == 0 {
			continue
		}
		stated = true
		if t < shortest || t > longest {
			wrong = append(wrong, fmt.Errorf("%s is %v: a minute to two years would do", s.LabelKey(), t))
		}
		if s != Cured {
			longestStated = max(longestStated, t)
		}
	}
	if !stated {
		wrong = append(wrong, errors.New("stated holds no stage time: stated.recoat, or one of touch, dust_free, tack_free, sand, handle, cure, is needed"))
	}
	if cure := p.Stated.Times[Cured]; cure != 0 && cure < longestStated {
		wrong = append(wrong, fmt.Errorf("stated.cure is %v: no stage takes longer than the cure, and another is stated as %v", cure, longestStated))
	}
	return errors.Join(append(wrong, p.checkWindow())...)
}

func (p Product) checkWindow() error {
	by, recoat := p.Stated.RecoatBy, p.Stated.Times[DryToRecoat]
	switch {
	case by == 0:
		return nil
	case by < shortest || by > longest:
		return fmt.Errorf("stated.recoat_by is %v: a minute to two years would do", by)
	case by <= recoat:
		return fmt.Errorf("stated.recoat_by is %v: it has to be later than stated.recoat, which is %v", by, recoat)
	}
	return nil
}

// Check returns what is wrong with the limits, or nil; the error names the
// label's keys.
func (l Limits) Check() error {
	wrong := []error{
		span("limits.air_min", float64(l.AirMin), -20, 60, "°C"),
		span("limits.air_max", float64(l.AirMax), -20, 60, "°C"),
		span("limits.rh_min", float64(l.HumidityMin), 0, 100, "%"),
		span("limits.rh_max", float64(l.HumidityMax), 1, 100, "%"),
		span("limits.dew_margin_min", float64(l.DewMarginMin), 0, 20, "K"),
		span("limits.air_dew_min", float64(l.AirMarginMin), 0, 30, "K"),
		span("limits.film_forms_above", float64(l.FilmFormsAbove), -20, 60, "°C"),
	}
	if l.AirMax <= l.AirMin {
		wrong = append(wrong, fmt.Errorf("limits.air_max is %v °C: it has to be above limits.air_min, which is %v °C", l.AirMax, l.AirMin))
	}
	if l.HumidityMax <= l.HumidityMin {
		wrong = append(wrong, fmt.Errorf("limits.rh_max is %v %%: it has to be above limits.rh_min, which is %v %%", l.HumidityMax, l.HumidityMin))
	}
	return errors.Join(wrong...)
}
