package drying

import (
	"fmt"
	"strings"
	"time"
)

// kind is what is known of a sort of finish before its label is read.
type kind struct {
	family Family
	name   string
	// typical holds usual times at 23 °C and 50 %. Only their ratios count:
	// they are scaled to the times the label gives.
	typical [StageCount]time.Duration
	film    Microns // wet
	limits  Limits
	law     func() law
}

const day = 24 * time.Hour

// kinds returns every kind, the one that is assumed first within its family.
//
// The times are common practice, no source, but for shellac (handle 1 h,
// recoat 2 to 3 h, hard 24 h: TT-S-300 as quoted in Army TM 43-0139) and alkyd
// (dry to touch within 2 h at 23 °C: TT-P-645). The limits are those of
// MIL-HDBK-1110 and the Wood Handbook where these speak (10 °C for latex, 4 °C
// for oil and alkyd, a surface 3 K above the dew point) and otherwise common
// practice, no source.
func kinds() []kind {
	waterborne := Limits{AirMin: 10, AirMax: 35, HumidityMax: 85, DewMarginMin: 3, FilmFormsAbove: 8, HasFilmForms: true}
	soaking := Limits{AirMin: 10, AirMax: 35, HumidityMax: 85, DewMarginMin: 3}
	oil := Limits{AirMin: 5, AirMax: 35, HumidityMax: 85, DewMarginMin: 3}
	twoPart := Limits{AirMin: 10, AirMax: 35, HumidityMax: 85, DewMarginMin: 3}
	return []kind{
		{Waterborne, "acrylic", typical(21*day, 30, 40, 60, 180, 120, 720), 100, waterborne, waterborneLaw},
		{Waterborne, "polyurethane", typical(14*day, 30, 45, 75, 150, 120, 720), 100, waterborne, waterborneLaw},
		{Waterborne, "stain", typical(3*day, 30, 30, 45, 180, 120, 180), 60, soaking, soakingLaw},
		{Waterborne, "casein", typical(14*day, 20, 20, 30, 120, 60, 240), 100, soaking, soakingLaw},
		{Solvent, "shellac", typical(day, 10, 15, 30, 150, 150, 60), 75,
			Limits{AirMin: 10, AirMax: 35, HumidityMax: 75, DewMarginMin: 3, AirMarginMin: 8},
			func() law { return solventLaw(ethanol) }},
		{Solvent, "lacquer", typical(7*day, 5, 10, 15, 60, 60, 240), 100,
			Limits{AirMin: 10, AirMax: 35, HumidityMax: 75, DewMarginMin: 3, AirMarginMin: 10},
			func() law { return solventLaw(butylAcetate) }},
		{Oxidising, "alkyd", typical(14*day, 120, 180, 360, 1080, 960, 1440), 75, oil, oxidisingLaw},
		{Oxidising, "oil", typical(30*day, 480, 600, 1080, 1440, 1440, 2160), 40, oil, oxidisingLaw},
		{Oxidising, "hardwax", typical(14*day, 240, 300, 480, 720, 720, 1440), 40, oil, oxidisingLaw},
		{TwoPart, "epoxy", typical(7*day, 180, 240, 360, 960, 480, 1440), 125, twoPart,
			func() law { return twoPartLaw(epoxyEnergy) }},
		{TwoPart, "polyurethane", typical(7*day, 60, 90, 180, 480, 360, 960), 100, twoPart,
			func() law { return twoPartLaw(polyurethaneEnergy) }},
		{MoistureCuring, "urethane", typical(7*day, 60, 90, 180, 600, 480, 1440), 75,
			Limits{AirMin: 10, AirMax: 35, HumidityMin: 30, HumidityMax: 75, DewMarginMin: 3},
			moistureCuringLaw},
	}
}

// typical joins the cure and the stages up to Handle, given in minutes.
func typical(cure time.Duration, minutes ...time.Duration) (all [StageCount]time.Duration) {
	for i, m := range minutes {
		all[i] = m * time.Minute
	}
	all[Cured] = cure
	return all
}

// Families returns every family.
func Families() []Family { return []Family{Waterborne, Solvent, Oxidising, TwoPart, MoistureCuring} }

// Kinds returns the names of a family's kinds, the one that is assumed first.
func Kinds(f Family) []string {
	var names []string
	for _, k := range kinds() {
		if k.family == f {
			names = append(names, k.name)
		}
	}
	return names
}

// findKind returns the kind of a family by its name; the empty name stands for
// the first.
func findKind(f Family, name string) (kind, error) {
	for _, k := range kinds() {
		if k.family == f && (name == "" || k.name == name) {
			return k, nil
		}
	}
	if len(Kinds(f)) == 0 {
		return kind{}, fmt.Errorf("family is %q: one of %s would do", f, joinFamilies())
	}
	return kind{}, fmt.Errorf("kind is %q: for family %q one of %s would do", name, f, strings.Join(Kinds(f), ", "))
}

func joinFamilies() string {
	names := make([]string, len(Families()))
	for i, f := range Families() {
		names[i] = string(f)
	}
	return strings.Join(names, ", ")
}
