package dashboards

import "recoat/drying"

// familyWords and kindWords say what a can says it is.
func familyWords(f drying.Family) string {
	switch f {
	case drying.Waterborne:
		return "Water-based"
	case drying.Solvent:
		return "Shellac and lacquer"
	case drying.Oxidising:
		return "Oil-based"
	case drying.TwoPart:
		return "Two-part"
	case drying.MoistureCuring:
		return "Cures with moisture"
	}
	return string(f)
}

func kindWords(f drying.Family, kind string) string {
	special := map[string]string{
		"waterborne/acrylic": "Water-based paint or clear, acrylic", "waterborne/polyurethane": "Water-based clear, polyurethane",
		"waterborne/stain": "Water stain or dye", "waterborne/casein": "Casein paint",
		"solvent/shellac": "Shellac", "solvent/lacquer": "Lacquer",
		"oxidising/alkyd": "Oil varnish, alkyd or oil paint", "oxidising/oil": "Penetrating oil or oil stain", "oxidising/hardwax": "Hardwax oil",
		"two-part/epoxy": "Two-part epoxy", "two-part/polyurethane": "Two-part polyurethane", "moisture-curing/urethane": "Moisture-curing urethane",
	}
	if words, ok := special[kindID(f, kind)]; ok {
		return words
	}
	return familyWords(f)
}

func kindID(f drying.Family, kind string) string { return string(f) + "/" + kind }

// kindGroups are all kinds to choose from, by family.
func kindGroups() []optionGroup {
	var groups []optionGroup
	for _, f := range drying.Families() {
		g := optionGroup{Title: familyWords(f)}
		for _, kind := range drying.Kinds(f) {
			g.Options = append(g.Options, option{kindID(f, kind), kindWords(f, kind)})
		}
		groups = append(groups, g)
	}
	return groups
}
