package dashboards

import (
	"fmt"
	"net/http"
	"slices"
	"time"

	"recoat/internal/alert"
	"recoat/internal/room"
	"recoat/sensors"
)

// silences say which node or channel gives nothing, and since when.
func (w words) silences(s room.Snapshot, now time.Time) []string {
	var out []string
	for _, n := range s.Nodes {
		if n.Silent && n.Heard.IsZero() {
			out = append(out, fmt.Sprintf("Node %s has never been heard. Check its power and its network.", n.Node))
			continue
		}
		if n.Silent && n.Away {
			out = append(out, fmt.Sprintf("Node %s has lost its connection, and was last heard at %s. Check its power and its network.", n.Node, w.clock(n.Heard, now)))
			continue
		}
		if n.Silent {
			out = append(out, fmt.Sprintf("Node %s has been silent since %s. Check its power and its network.", n.Node, w.clock(n.Heard, now)))
			continue
		}
		if len(n.Missing) > 0 {
			out = append(out, fmt.Sprintf("Node %s is heard, but gives no %s. Check that sensor's cable.", n.Node, channelList(n.Missing)))
		}
		if len(n.Suspect) > 0 {
			out = append(out, fmt.Sprintf("Node %s gives a doubtful %s. It is kept, but not reckoned with.", n.Node, channelList(n.Suspect)))
		}
	}
	if s.Air == nil && len(out) == 0 && !s.Starting {
		out = append(out, noGoodReading(s))
	}
	return out
}

func noGoodReading(s room.Snapshot) string {
	if len(s.Nodes) == 0 {
		return "No node has reported from this room yet. Start its agent, and its readings show here."
	}
	return "No good reading of the air has come lately. Check the sensor with: recoat sensors read."
}

func channelList(channels []sensors.Channel) string {
	var names []string
	for _, c := range channels {
		names = append(names, channelWords(c))
	}
	return listWords(names)
}

// alertView is one alert as a line.
type alertView struct {
	Severity string
	Title    string
	Body     string
	Since    string
	Seen     bool
	ID       string
	Rule     string // what the rule behind it looks at; empty: not known
	Ask      bool   // whether it can be acknowledged here
}

// offerSeen puts the button that acknowledges under each alert not seen yet.
func (s *server) offerSeen(alerts []alertView) {
	for i := range alerts {
		alerts[i].Ask = s.seen != nil && !alerts[i].Seen
	}
}

// acknowledge notes that the finisher has seen an alert, unless it is over or
// has been seen from another page.
func (s *server) acknowledge(w http.ResponseWriter, r *http.Request) {
	if !s.seen(r.PathValue("id")) {
		s.say(w, http.StatusNotFound, message{"Nothing to acknowledge", "No alert of that name waits to be seen: it is over, or was acknowledged already. Tonight shows what stands."})
		return
	}
	http.Redirect(w, r, back(r, "seen"), http.StatusSeeOther)
}

func (w words) alerts(episodes []alert.Episode, now time.Time) []alertView {
	var out []alertView
	for _, e := range episodes {
		if e.State != alert.Raised && e.State != alert.Acknowledged {
			continue
		}
		out = append(out, alertView{
			Severity: e.Severity.String(),
			Title:    w.inUnits(e.Title),
			Body:     w.inUnits(e.Body),
			Since:    w.clock(e.Since, now),
			Seen:     e.State == alert.Acknowledged,
			ID:       e.ID,
			Rule:     w.inUnits(alert.Whence(e.Key.Rule)),
		})
	}
	return out
}

// cautionView is what some products in the room call for.
type cautionView struct {
	Text     string
	products []string
}

// Products names the products that call for it.
func (c cautionView) Products() string { return listWords(c.products) }

// cautions are what the open coats call for, each once.
func cautions(coats []room.CoatNow) []cautionView {
	var out []cautionView
	for _, c := range coats {
		for _, text := range c.Cautions {
			t := sentence(text)
			i := slices.IndexFunc(out, func(v cautionView) bool { return v.Text == t })
			if i < 0 {
				i = len(out)
				out = append(out, cautionView{Text: t})
			}
			if !slices.Contains(out[i].products, c.Product) {
				out[i].products = append(out[i].products, c.Product)
			}
		}
	}
	return out
}
