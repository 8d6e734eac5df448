package dashboards

import (
	"strings"

	"recoat/drying"
	"recoat/internal/shop"
	"recoat/internal/shop/compat"
)

// The lists that several forms choose from.

func methodOptions() []optionGroup {
	var all []option
	for _, m := range shop.Methods() {
		all = append(all, option{string(m), capital(string(m))})
	}
	return []optionGroup{{Options: all}}
}

// methodWords say how a coat was put on.
func methodWords(m shop.Method) string {
	switch m {
	case "":
		return ""
	case shop.Spray:
		return "sprayed"
	case shop.Wipe:
		return "wiped on"
	}
	return "by " + string(m)
}

// belowOptions are what may lie below a first coat.
func belowOptions() []optionGroup {
	var all []option
	for _, c := range compat.Classes() {
		all = append(all, option{string(c), capital(strings.ReplaceAll(string(c), "-", " "))})
	}
	return []optionGroup{{Options: all}}
}

func stageOptions() []option {
	var all []option
	for _, s := range drying.Stages() {
		all = append(all, option{s.String(), stageWords[s].state})
	}
	return all
}

func roomOptions(rooms []shop.Room) []optionGroup {
	var all []option
	for _, r := range rooms {
		all = append(all, option{r.ID, r.Title})
	}
	return []optionGroup{{Options: all}}
}

func productOptions(products []shop.Product) []optionGroup {
	var all []option
	for _, p := range products {
		all = append(all, option{p.ID, p.Label.Name})
	}
	return []optionGroup{{Options: all}}
}

func mixOptions(mixes []shop.Mix) []optionGroup {
	var all []option
	for _, m := range mixes {
		all = append(all, option{m.ID, m.Name})
	}
	return []optionGroup{{Options: all}}
}

// canOptions are the cans that hold something.
func canOptions(cans []shop.Can) []optionGroup {
	var all []option
	for _, c := range cans {
		if c.LeftML <= 0 {
			continue
		}
		label := c.Name + ", " + volumeWords(c.LeftML)
		if c.Batch != "" {
			label += ", batch " + c.Batch
		}
		all = append(all, option{c.ID, label})
	}
	return []optionGroup{{Options: all}}
}

// boards are woods and boards that furniture is made of, to choose from while
// typing.
func boards() []string {
	return []string{"oak", "pine", "beech", "ash", "birch", "maple", "cherry", "walnut", "mahogany", "elm", "spruce",
		"birch plywood", "veneered chipboard", "MDF", "hardboard"}
}

func thicknessUnits(inches bool) []option {
	if inches {
		return []option{{"in", "inches"}, {"mm", "mm"}}
	}
	return []option{{"mm", "mm"}, {"in", "inches"}}
}
