package shop

import "recoat/drying"

// The cautions, in the order in which they matter. What they rest on: rags and
// cans, WAC 296-24-37013 (Washington State) and a university's workshop rules;
// isocyanate, the New Zealand guide to spraying two-part paints and
// surveillance cases in a CDC report; dust, the NIOSH page on wood dust.
// Epoxy and skin: from memory.
const (
	oilyRags = "Rags, pads and sanding dust with this on them warm up as they dry and can catch fire within hours, with no spark. " +
		"Lay each rag flat and single outdoors, or drown it in water in a metal can with a lid; never a heap, never a bag. " +
		"Get rid of them as the label and local rules say."
	isocyanate = "It holds isocyanate, which can cause lasting asthma. Smell is no warning, and a filter mask may not be enough. " +
		"Do not spray it without the air supply and extraction that the label and local rules ask for."
	epoxySkin = "Resin and hardener can leave you allergic to them for good. Keep both off your skin, with the gloves the label names; local rules may ask for more."
	vapour    = "Its vapour burns and is bad to breathe, and no sensor here can smell it. " +
		"Air the room, keep flames, heaters and switches out of the vapour and the lids on; the label and local rules say what else it takes."
	mildVapour = "Little smell does not mean no vapour: air the room while it dries, and wear what the label and local rules ask for."
	dust       = "Dust of wood and finish harms the lungs and can burn. Catch it at the tool, wear a mask that fits, empty the bag outside, as the label and local rules say."
)

// oily reports whether rags with the product on them can catch fire by
// themselves.
func oily(p drying.Product) bool { return p.Family == drying.Oxidising }

// Cautions says what to beware of with a product, for people, the gravest
// first. None of it replaces the label or local rules, and each says so.
func Cautions(p drying.Product) []string {
	var all []string
	switch p.Family {
	case drying.Waterborne:
		all = []string{mildVapour}
	case drying.Solvent:
		all = []string{vapour}
	case drying.Oxidising:
		all = []string{oilyRags, vapour}
	case drying.TwoPart:
		if p.Kind == "epoxy" {
			all = []string{epoxySkin, mildVapour}
		} else {
			all = []string{isocyanate, vapour}
		}
	case drying.MoistureCuring:
		all = []string{isocyanate, vapour}
	}
	return append(all, dust)
}
