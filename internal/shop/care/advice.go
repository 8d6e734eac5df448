package care

import (
	"slices"

	"recoat/drying"
	"recoat/internal/shop"
)

// labelFirst comes before all else on a card.
const labelFirst = "The finish's label and local rules come first. The dates are estimates from what was measured while the coats dried."

// young is how to treat a piece until it is cured. That pressure, warmth and
// damp make young films stick: the factors of ASTM D4946, of which only the
// abstract was read. The rest is common practice, no source.
func young() []string {
	return []string{
		"Do not wrap it, stack it, or set anything heavy or warm on it; leave doors and drawers a little open.",
		"No tablecloth, rubber feet, wet or hot things, cleaner or wax on it yet.",
		"Lift it, do not drag it.",
	}
}

// always is how to treat a piece for good. Heat, alcohol, dusting and spray
// polish: a museum conservation institute's booklet on the care of furniture.
// Light and steady air: a state museum's manual for wooden objects, which asks
// for more than a house can give and is softened here. That films only slow
// moisture: the abstract of FPL 462 (1985), where 11 of 91 finishes held vapour
// back noticeably over two weeks.
func always(coats []shop.Coat) []string {
	all := []string{
		"Put coasters and trivets under cups and pots: heat melts films, and what condenses under a cold glass whitens them.",
		"Wipe up alcohol, perfume and nail-polish remover at once: they act as strippers.",
		"Dust it with a soft cloth, hardly damp. No feather duster, which scratches, and no spray polish: what it leaves keeps the next finish from holding.",
		"Keep it out of direct sun and away from heaters and vents; steady, middling air is what wood likes best.",
		"A finish slows water down, it does not keep it out: wipe spills up, and do not leave anything wet on it.",
	}
	if slices.ContainsFunc(coats, soaks) {
		all = append(all, "When the wood looks dry, oil it again thinly with the same finish and wipe it all off. Mind the rags: see the cautions.")
	}
	return append(all, "Keep this card: whoever repairs the finish must know what lies below.")
}

// soaks reports whether a coat is an oil or a hardwax oil.
func soaks(c shop.Coat) bool {
	return c.Product.Label.Family == drying.Oxidising && c.Product.Label.Kind != "alkyd"
}

// cautions are those of every product on the piece, each once.
func cautions(coats []shop.Coat) []string {
	all := []string{}
	for _, c := range coats {
		for _, caution := range shop.Cautions(c.Product.Label) {
			if !slices.Contains(all, caution) {
				all = append(all, caution)
			}
		}
	}
	return all
}
