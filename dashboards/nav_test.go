package dashboards

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestNavigationMarksThePageShown(t *testing.T) {
	h := handler(newHouse(backRoom(evening)), Book{})
	for address, here := range map[string]string{"/": "Tonight", "/room/back-room": "Room"} {
		html := get(h, address).Body.String()
		if want := `aria-current="page">` + here + `</a>`; strings.Count(html, `aria-current="page"`) != 1 || !strings.Contains(html, want) {
			t.Errorf("%s does not mark %s, and only that", address, here)
		}
	}
	if html := get(handler(newHouse(), Book{}), "/").Body.String(); strings.Contains(html, ">Room</a>") {
		t.Error("a room is offered where there is none")
	}
}

// A phone's bar holds five pages; of more, the rest goes into the fold.
func TestNavigationFoldsWhatDoesNotFit(t *testing.T) {
	for n, want := range map[int][2]int{3: {3, 0}, 5: {5, 0}, 6: {4, 2}, 9: {4, 5}} {
		var links []navLink
		for i := range n {
			links = append(links, navLink{Title: fmt.Sprint(i), Here: i == n-1})
		}
		got := fold(links)
		if diff := cmp.Diff(want, [2]int{len(got.Near), len(got.Far)}); diff != "" {
			t.Errorf("%d pages: %s", n, diff)
		}
		if got.FarHere() != (len(got.Far) > 0) {
			t.Errorf("%d pages: the fold does not say that the page shown is in it", n)
		}
	}
}
