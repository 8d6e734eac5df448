package dashboards

import (
	"net/http"
	"strings"
	"testing"
	"time"
)

// A shop that reads °F and a clock of twelve hours finds neither °C nor 21:40 on
// any page.
func TestPagesInFahrenheitAndTwelveHours(t *testing.T) {
	h := New(Options{
		House: newHouse(plannedRoom(t)), History: fakeHistory{}, Doings: fakeDoings{}, Book: filledBook(t), Location: shopZone,
		Now: func() time.Time { return evening }, Fahrenheit: true, TwelveHour: true,
	})
	wantProse(t, get(h, "/"), "Air 66.9 °F, 58 %; dew point 51.6 °F", "10.1 °F", "recoat 3:25 am", "Tuesday 9:40 pm")
	for _, target := range []string{"/", "/room/back-room", "/plan", "/wall"} {
		w := get(h, target)
		if w.Code != http.StatusOK {
			t.Fatalf("%s: status %d", target, w.Code)
		}
		for _, wrong := range []string{"°C", " K ", "21:4", "03:25", " 0:00 "} {
			if page := w.Body.String(); strings.Contains(page, wrong) {
				at := strings.Index(page, wrong)
				t.Errorf("%s still says %q: …%s…", target, wrong, page[max(0, at-80):min(len(page), at+40)])
			}
		}
	}
}
