package dashboards

import (
	"fmt"
	"strings"
)

// num is a figure that leads to where it comes from: the element that From names,
// on this page or on another, says how the same figure was reckoned. Without a
// From it is plain text.
type num struct{ Text, From string }

// source is one line of where figures come from. Its ID is what they lead to.
type source struct{ ID, Text string }

// reckoning is how one figure was come by, in the order in which it is reckoned.
type reckoning struct {
	ID, Title string
	Lines     []string
}

// linked cuts a sentence at the figures in it.
func linked(text string, figures ...num) []num {
	var out []num
	for text != "" {
		at, found := len(text), num{}
		for _, f := range figures {
			if i := strings.Index(text, f.Text); f.Text != "" && i >= 0 && i < at {
				at, found = i, f
			}
		}
		if at > 0 {
			out = append(out, num{Text: text[:at]})
		}
		if found.Text != "" {
			out = append(out, found)
		}
		text = text[at+len(found.Text):]
	}
	return out
}

// asLinked is linked for templates: each figure is a num or a list of them.
func asLinked(text string, figures ...any) ([]num, error) {
	var all []num
	for _, f := range figures {
		switch f := f.(type) {
		case num:
			all = append(all, f)
		case []num:
			all = append(all, f...)
		default:
			return nil, fmt.Errorf("a figure is a num or a list of them, not a %T", f)
		}
	}
	return linked(text, all...), nil
}

// The places that figures lead to. Those of a room stand on Tonight and on its own
// page, those of a coat on its own page, and fromBar beside its bar on Tonight.
func fromRoom(room, what string) string { return "from-" + room + "-" + what }
func fromCoat(id, what string) string   { return "/coats/" + id + "#from-" + what }
func fromBar(id string) string          { return "from-" + id }
