package dashboards

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"recoat/sensors"
)

// pageCheck is a page with what it has to say.
type pageCheck struct {
	name, address string
	says          []string
}

// everyPage is each page that exists. A new page is a new line.
var everyPage = []pageCheck{
	{"tonight", "/", []string{"Fit to coat, until about", "What to do next"}},
	{"room", "/room/back-room?span=1d", []string{"How it got here", "Quiet Harbour colour coat"}},
	{"plan", "/plan", []string{"Do not start at 21:45: wait for 07:00", "What if", "Warm the air by 4 K"}},
	{"plan-go", "/plan?coats=3&with=dry&at=" + unix(evening.Add(12*time.Hour+20*time.Minute)), []string{"Start at 10:00: a good hour", "keep them out of solvent vapour"}},
	{"plan-part", "/plan?part=p-0001.3&by=2026-03-18T18:00", []string{"Before it:", "Sanding takes, minutes", "start no later than"}},
	{"wall", "/wall", []string{"Fit until 00:45", "03:25", "Linen press, doors", "touch decides"}},
	{"products", "/products", []string{"Quiet Harbour colour coat"}},
	{"product", "/products/f-0001", []string{"Quiet Harbour colour coat"}},
	{"product-new", "/products/new?kind=oxidising/alkyd", nil},
	{"shelf", "/shelf", []string{"B-77"}},
	{"mixes", "/mixes", []string{"Harbour grey"}},
	{"mix", "/mixes/m-0001?amount=250", []string{"Lamp black tint"}},
	{"pieces", "/pieces", []string{"Linen press", "Hall chair"}},
	{"piece", "/pieces/p-0001", []string{"drawer fronts"}},
	{"piece-edit", "/pieces/p-0001/edit", nil},
	{"schedule", "/parts/p-0001.1/schedule", nil},
	{"coat", "/coats/c-0002", nil},
	{"coat-new", "/coats/new?part=p-0001.2", nil},
	{"coat-where", "/coats/new", []string{"Hall chair, frame"}},
	{"piece-new", "/pieces/new", []string{"Its parts"}},
	{"part-edit", "/parts/p-0001.2/edit", []string{"Moisture of the wood"}},
	{"product-edit", "/products/f-0001/edit", []string{"A table of other conditions"}},
	{"mix-new", "/mixes/new", nil},
	{"setup", "/setup", []string{"Rooms and their nodes", "press-side"}},
	{"alerts", "/alerts", []string{"One alert stands", "Near the dew point: Linen press, doors", "Seen, and not over"}},
	{"alerts-preview", "/alerts/preview", nil},
	{"alerts-night", "/alerts/preview?room=back-room&night=2026-03-09", []string{"Too damp: Linen press, doors"}},
	{"sensors", "/sensors", []string{"Next check due", "It is overdue", "Never checked here"}},
	{"sensor-check", checkHref("back-room", "press-side", sensors.Channel{Quantity: sensors.AirHumidity}), nil},
	{"record", "/coats/c-0007/record", []string{"Against the label and published practice", "Note a defect"}},
	{"compare", "/compare?coats=c-0007,c-0008", []string{"Coats compared"}},
	{"uses", "/products/f-0001/coats", []string{"Coats compared"}},
	{"account", "/account", []string{"You may do everything here.", "Who may come in", "log-in refused"}},
	{"room-year", "/room/back-room?span=1y", []string{"How it got here"}},
}

// TestEveryPage opens each page on a phone, a tablet and a wall, by day and by
// night. With RECOAT_PICTURES it leaves pictures there.
func TestEveryPage(t *testing.T) {
	b := startBrowser(t)
	home := serveAll(t, newHouse(plannedRoom(t)))
	for _, page := range everyPage {
		t.Run(page.name, func(t *testing.T) { b.everyWidth(t, home, page) })
	}
	b.quiet(t, home)
}

// everyWidth opens a page at each width, by day and by night.
func (b *browser) everyWidth(t *testing.T, home string, page pageCheck) {
	for _, at := range []struct {
		width int64
		theme string
	}{{390, "light"}, {820, "light"}, {1920, "light"}, {390, "dark"}, {1920, "dark"}} {
		b.open(t, home+page.address, at.width, at.theme)
		b.text(t, page.says...)
		name := fmt.Sprintf("%s-%s-%d", page.name, at.theme, at.width)
		if wide := b.overflow(t); wide > 0 {
			t.Errorf("%s is %v px too wide", name, wide)
		}
		if folder := os.Getenv("RECOAT_PICTURES"); folder != "" {
			b.shot(t, filepath.Join(folder, name+".png"))
		}
	}
}
