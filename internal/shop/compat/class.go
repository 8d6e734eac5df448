package compat

import (
	"slices"
	"time"

	"recoat/drying"
)

// Class is what a layer is, as far as the layer above it cares.
type Class string

// The classes. What a label's family and kind cannot tell, the finisher can.
const (
	Waterborne     Class = "waterborne" // acrylic, polyurethane, latex
	Casein         Class = "casein"
	Shellac        Class = "shellac" // not known whether dewaxed
	DewaxedShellac Class = "dewaxed-shellac"
	WaxyShellac    Class = "waxy-shellac"
	Lacquer        Class = "lacquer"
	Alkyd          Class = "alkyd" // alkyd, oil varnish, oil paint
	Oil            Class = "oil"   // soaks in
	HardWax        Class = "hardwax"
	Wax            Class = "wax"
	TwoPart        Class = "two-part" // not known whether in solvent or water
	SolventTwoPart Class = "solvent-two-part"
	WaterTwoPart   Class = "water-two-part"
	Urethane       Class = "urethane" // cures with moisture

	WaterStain Class = "water-stain" // and dye
	OilStain   Class = "oil-stain"
	GelStain   Class = "gel-stain"

	ThinSealer    Class = "thin-sealer"
	PasteFiller   Class = "paste-filler"   // in solvent
	VarnishFiller Class = "varnish-filler" // bound with oil or varnish
	WaterFiller   Class = "water-filler"
	BodyFiller    Class = "body-filler" // two-part

	Knots           Class = "knots" // or resin, or tannin
	PolishResidue   Class = "polish-residue"
	WeatheredWood   Class = "weathered-wood"   // bare in the sun for more than two weeks
	WeatheredPrimer Class = "weathered-primer" // left for more than two weeks
	UnknownFilm     Class = "unknown-film"
)

// Classes returns every class.
func Classes() []Class {
	return []Class{
		Waterborne, Casein, Shellac, DewaxedShellac, WaxyShellac, Lacquer, Alkyd, Oil, HardWax, Wax,
		TwoPart, SolventTwoPart, WaterTwoPart, Urethane, WaterStain, OilStain, GelStain,
		ThinSealer, PasteFiller, VarnishFiller, WaterFiller, BodyFiller,
		Knots, PolishResidue, WeatheredWood, WeatheredPrimer, UnknownFilm,
	}
}

// may returns what a layer of the class may be, where the class leaves it open.
func (c Class) may() []Class {
	switch c {
	case Shellac:
		return []Class{DewaxedShellac, WaxyShellac}
	case TwoPart:
		return []Class{SolventTwoPart, WaterTwoPart}
	default:
		return []Class{c}
	}
}

// words is what people call a layer of the class.
func (c Class) words() string {
	special := map[Class]string{
		Waterborne: "a waterborne coat", Casein: "casein", Alkyd: "alkyd or oil varnish", Oil: "penetrating oil", HardWax: "hardwax oil",
		TwoPart: "a two-part coat", SolventTwoPart: "a two-part coat in solvent", WaterTwoPart: "a two-part coat in water",
		Urethane: "moisture-curing urethane", WaterStain: "water stain or dye", OilStain: "oil stain", GelStain: "gel stain",
		DewaxedShellac: "dewaxed shellac", WaxyShellac: "shellac that holds wax", ThinSealer: "a thin sealer",
		PasteFiller: "paste filler in solvent", VarnishFiller: "filler bound with oil or varnish", WaterFiller: "water filler", BodyFiller: "two-part body filler",
		Knots: "knots, resin or tannin", PolishResidue: "polish residue", WeatheredWood: "wood left bare for weeks",
		WeatheredPrimer: "primer left for weeks", UnknownFilm: "an unknown film",
	}
	if w, ok := special[c]; ok {
		return w
	}
	return string(c)
}

// Layer is one of the two that meet.
type Layer struct {
	Class    Class
	Product  string        // its name; empty: not known
	Recoat   time.Duration // the label's; 0: not known
	RecoatBy time.Duration // later than this: abrade first; 0: no such limit
}

// LayerOf returns the layer that a product makes. Where its family and kind do
// not tell whether an oil is a stain, or shellac dewaxed, its class does.
func LayerOf(p drying.Product) Layer {
	return Layer{Class: classOf(p), Product: p.Name, Recoat: p.Stated.Times[drying.DryToRecoat], RecoatBy: p.Stated.RecoatBy}
}

// classOf returns the empty class, for which there is no rule, for a family
// that is not known.
func classOf(p drying.Product) Class {
	switch {
	case p.Class != "":
		return Class(p.Class)
	case p.Kind == "stain":
		return WaterStain
	case p.Kind == "casein":
		return Casein
	case p.Family == drying.Waterborne:
		return Waterborne
	case p.Family == drying.TwoPart:
		return TwoPart
	case p.Family == drying.MoistureCuring:
		return Urethane
	case slices.Contains(Classes(), Class(p.Kind)): // shellac, lacquer, alkyd, oil, hardwax
		return Class(p.Kind)
	}
	return ""
}
