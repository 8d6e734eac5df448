// Package film reckons with films: how thick one lies, how much of it stays,
// how far a tin goes, and what a gauge says. It is pure arithmetic; what a label
// states comes first.
package film

import (
	"fmt"

	"recoat/drying"
	"recoat/internal/quantity"
)

// The quantities, beside drying.Microns for a thickness.
type (
	Millilitres  float64
	Grams        float64
	SquareMetres float64
	Density      float64 // g/mL
	Share        float64 // of a whole, 0 to 1
)

// What is reckoned with. It holds any tin and any piece of furniture.
const (
	mostVolume  = 1e6 // mL
	mostMass    = 1e6 // g
	mostArea    = 1e4 // m²
	mostDensity = 10  // g/mL
	mostFilm    = 5e3 // µm
	mostThinner = 10  // volumes for one of paint
)

func between(what string, v, above, most float64) error {
	if v > above && v <= most {
		return nil
	}
	return fmt.Errorf("%s of %g cannot be reckoned with: more than %g, and at most %g", what, v, above, most)
}

// firstOf returns the first that is an error.
func firstOf(checks ...error) error {
	for _, err := range checks {
		if err != nil {
			return err
		}
	}
	return nil
}

// Wet returns the wet film of a volume spread over an area: 1 mL on 1 m² is
// 1 µm. Transfer is the share that reaches the piece: near 1 for brush, pad and
// roller (common practice, no source). For spraying, published shares run from
// 0.25 to 0.8, too far apart to assume one: take a gauge or weigh a card.
func Wet(v Millilitres, area SquareMetres, transfer Share) (drying.Microns, error) {
	err := firstOf(
		between("a volume in mL", float64(v), 0, mostVolume),
		between("an area in m²", float64(area), 0, mostArea),
		between("a share that reaches the piece", float64(transfer), 0, 1))
	if err != nil {
		return 0, err
	}
	return drying.Microns(float64(v) * float64(transfer) / float64(area)), nil
}

// Needed returns the volume that gives a wet film over an area; it is the
// inverse of Wet.
func Needed(wet drying.Microns, area SquareMetres, transfer Share) (Millilitres, error) {
	err := firstOf(
		between("a film in µm", float64(wet), 0, mostFilm),
		between("an area in m²", float64(area), 0, mostArea),
		between("a share that reaches the piece", float64(transfer), 0, 1))
	if err != nil {
		return 0, err
	}
	return Millilitres(float64(wet) * float64(area) / float64(transfer)), nil
}

// Volume returns the volume of a mass.
func Volume(m Grams, d Density) (Millilitres, error) {
	err := firstOf(
		between("a mass in g", float64(m), 0, mostMass),
		between("a density in g/mL", float64(d), 0, mostDensity))
	if err != nil {
		return 0, err
	}
	return Millilitres(float64(m) / float64(d)), nil
}

// Mass returns the mass of a volume.
func Mass(v Millilitres, d Density) (Grams, error) {
	err := firstOf(
		between("a volume in mL", float64(v), 0, mostVolume),
		between("a density in g/mL", float64(d), 0, mostDensity))
	if err != nil {
		return 0, err
	}
	return Grams(float64(v) * float64(d)), nil
}

// Dry returns the dry film that a wet one leaves, from the volume solids
// (MIL-HDBK-1110 (1996) 2.1.5). Weight solids, as many solvent-borne labels
// give, are another number and not to be used for it.
func Dry(wet drying.Microns, solids Share) (drying.Microns, error) {
	err := firstOf(
		between("a film in µm", float64(wet), 0, mostFilm),
		between("a share of volume solids", float64(solids), 0, 1))
	if err != nil {
		return 0, err
	}
	return wet * drying.Microns(solids), nil
}

// Thinned returns the volume solids of a paint to which thinner was added,
// volumes of it for one volume of paint.
func Thinned(solids Share, thinner float64) (Share, error) {
	if err := between("a share of volume solids", float64(solids), 0, 1); err != nil {
		return 0, err
	}
	if !(thinner >= 0 && thinner <= mostThinner) {
		return 0, fmt.Errorf("a thinning of %g cannot be reckoned with: 0 to %d volumes of thinner for one of paint", thinner, mostThinner)
	}
	return solids / Share(1+thinner), nil
}

// SpreadRate returns how many square metres a litre covers with a dry film, if
// nothing is lost.
func SpreadRate(dry drying.Microns, solids Share) (float64, error) {
	err := firstOf(
		between("a film in µm", float64(dry), 0, mostFilm),
		between("a share of volume solids", float64(solids), 0, 1))
	if err != nil {
		return 0, err
	}
	return 1000 * float64(solids) / float64(dry), nil
}

// Interval is between which bounds the wet film lies; the truth may be either
// bound.
type Interval struct{ Low, High drying.Microns }

// Gauge returns what a notched gauge says of a wet film. Its teeth are given by
// the film that just wets each, the smallest first; wetted is how many of them
// came out wet. The film lies between the last wet tooth and the next dry one
// (ASTM D1212 as quoted in MIL-HDBK-1110; that it is an interval from memory of
// ASTM D4414). Solvent that has left changes it: it guides, and proves nothing.
func Gauge(teeth []drying.Microns, wetted int32) (Interval, error) {
	for i, tooth := range teeth {
		if err := between("a tooth in µm", float64(tooth), 0, mostFilm); err != nil {
			return Interval{}, err
		}
		if i > 0 && tooth <= teeth[i-1] {
			return Interval{}, fmt.Errorf("the tooth of %s follows one of %s: give the teeth in order, the smallest first",
				quantity.FormatFilm(tooth), quantity.FormatFilm(teeth[i-1]))
		}
	}
	n := int32(len(teeth))
	switch {
	case wetted < 0 || wetted > n:
		return Interval{}, fmt.Errorf("%d wet teeth cannot be: the gauge has %d", wetted, n)
	case n == 0 || wetted == n:
		return Interval{}, fmt.Errorf("every tooth is wet: the film is thicker than this gauge can tell, take a coarser one")
	case wetted == 0:
		return Interval{Low: 0, High: teeth[0]}, nil
	}
	return Interval{Low: teeth[wetted-1], High: teeth[wetted]}, nil
}
