package dashboards

import (
	"html"
	"io"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"recoat/drying/odour"
	"recoat/internal/room"
)

// anyFigure finds the figures that lead to where they come from.
var anyFigure = regexp.MustCompile(`<a class="num" href="([^"]*)" aria-label="([^"]*)">([^<]*)</a>`)

// standing finds what stands alone as a figure: a value of a list, an amount, the
// time of a step.
var standing = regexp.MustCompile(`(?s)<(dd|p class="when"|p class="amount")( [^>]*)?>(.*?)</(?:dd|p)>`)

var digit = regexp.MustCompile(`[0-9]`)

// leads are the pages whose figures have to lead somewhere, at least so many.
var leads = map[string]int{
	"/": 13, "/room/back-room": 16, "/wall": 4, "/coats/c-0002": 5, "/coats/c-0003": 2, "/pieces/p-0001": 1, "/shelf": 3, "/mixes/m-0001?amount=250": 2,
	"/plan": 8,
}

// TestEveryFigureLeadsToWhereItComesFrom walks the pages as a finisher would:
// each figure that was reckoned is a link, to a place that is there and holds the
// same figure. One that stands alone and is no link says that it was told.
func TestEveryFigureLeadsToWhereItComesFrom(t *testing.T) {
	home := serveAll(t, newHouse(whenceRoom(t)))
	pages := map[string]string{}
	read := func(address string) string {
		t.Helper()
		if _, known := pages[address]; !known {
			pages[address] = fetch(t, home+address)
		}
		return pages[address]
	}
	for _, page := range everyPage {
		body := read(page.address)
		for _, s := range standing.FindAllStringSubmatch(body, -1) {
			if digit.MatchString(plain(s[3])) && !strings.Contains(s[3], `class="num"`) && !strings.Contains(s[2], "data-told") {
				t.Errorf("%s: the figure %q stands alone, and leads nowhere", page.address, plain(s[3]))
			}
		}
	}
	for address, least := range leads {
		figures := anyFigure.FindAllStringSubmatch(read(address), -1)
		if len(figures) < least {
			t.Errorf("%s: %d figures lead to where they come from, of %d at least", address, len(figures), least)
		}
	}
	for _, address := range append(addresses(), "/wall") {
		for _, f := range anyFigure.FindAllStringSubmatch(read(address), -1) {
			to, id, _ := strings.Cut(html.UnescapeString(f[1]), "#")
			if to == "" {
				to = address
			}
			figure := html.UnescapeString(f[3])
			if !strings.HasPrefix(html.UnescapeString(f[2]), figure+": ") {
				t.Errorf("%s: %q is called %q aloud", address, figure, f[2])
			}
			if there, ok := element(read(to), id); !ok {
				t.Errorf("%s: %q leads to %s#%s, which is not there", address, figure, to, id)
			} else if !strings.Contains(there, figure) {
				t.Errorf("%s: %q leads to %s#%s, which says something else: %s", address, figure, to, id, there)
			}
		}
	}
}

func addresses() []string {
	var all []string
	for _, p := range everyPage {
		all = append(all, p.address)
	}
	return all
}

// whenceRoom is a room whose two coats are those of the journal, with a smell and
// a recoat window.
func whenceRoom(t *testing.T) room.Snapshot {
	t.Helper()
	s := plannedRoom(t)
	s.Coats[0].ID, s.Coats[1].ID = "c-0002", "c-0003"
	s.Coats[0].Odour = &odour.Ready{Likely: evening.Add(50 * time.Hour), Low: evening.Add(30 * time.Hour), High: evening.Add(80 * time.Hour), Basis: "by its kind"}
	return s
}

func fetch(t *testing.T, url string) string {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url, nil)
	if err != nil {
		t.Fatal(err)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil || answer.StatusCode != http.StatusOK {
		t.Fatalf("%s: status %d, %v", url, answer.StatusCode, err)
	}
	return string(body)
}

func plain(markup string) string {
	return strings.Join(strings.Fields(html.UnescapeString(tags.ReplaceAllString(markup, " "))), " ")
}

// element is the text of the element with an id.
func element(page, id string) (string, bool) {
	open := regexp.MustCompile(`<([a-z0-9]+)[^>]* id="` + regexp.QuoteMeta(html.EscapeString(id)) + `"[^>]*>`).FindStringSubmatchIndex(page)
	if id == "" || open == nil {
		return "", false
	}
	tag := page[open[2]:open[3]]
	depth, rest := 1, page[open[1]:]
	for _, m := range regexp.MustCompile(`<(/?)`+tag+`[ >]`).FindAllStringSubmatchIndex(rest, -1) {
		if m[3] > m[2] {
			depth--
		} else {
			depth++
		}
		if depth == 0 {
			return plain(rest[:m[0]]), true
		}
	}
	return "", false
}
