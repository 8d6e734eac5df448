package shop

import (
	"strings"
	"testing"

	"recoat/drying"
)

func TestCautions(t *testing.T) {
	for _, c := range []struct {
		family drying.Family
		kind   string
		first  string // a word of the gravest
		never  string // a word of none of them
	}{
		{drying.Waterborne, "acrylic", "air the room", "isocyanate"},
		{drying.Solvent, "shellac", "flames", "Rags"},
		{drying.Solvent, "lacquer", "flames", "isocyanate"},
		{drying.Oxidising, "oil", "Rags", "isocyanate"},
		{drying.Oxidising, "alkyd", "Rags", "isocyanate"},
		{drying.TwoPart, "polyurethane", "isocyanate", "Rags"},
		{drying.TwoPart, "epoxy", "skin", "isocyanate"},
		{drying.MoistureCuring, "urethane", "isocyanate", "Rags"},
	} {
		all := Cautions(drying.Product{Family: c.family, Kind: c.kind})
		if len(all) < 2 || !strings.Contains(all[0], c.first) {
			t.Errorf("%s %s: %q", c.family, c.kind, all)
		}
		for _, s := range all {
			if strings.Contains(s, c.never) || !strings.Contains(s, "label") || !strings.Contains(s, "local rules") {
				t.Errorf("%s %s: %q", c.family, c.kind, s)
			}
		}
	}
}
