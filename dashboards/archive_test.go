package dashboards

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
)

func TestWhatIsInTheArchiveCanBeFoundAgain(t *testing.T) {
	j := openBook(t)
	h := journalHandler(j)
	post(h, "/products", home, colourLabel())
	post(h, "/shelf", home, url.Values{"product": {"f-0001"}, "amount": {"2"}, "amount-unit": {"L"}, "batch": {"B-77"}})
	for _, id := range []string{"s-0001", "f-0001"} {
		if w := post(h, "/archive/"+id, home, nil); w.Code != http.StatusSeeOther {
			t.Fatalf("%s: %d %s", id, w.Code, prose(w))
		}
	}
	wantProse(t, get(h, "/products"), "In the archive (1)", "Quiet Harbour colour coat")
	if page := get(h, "/products").Body.String(); !strings.Contains(page, `href="/products/f-0001"`) {
		t.Error("nothing leads to a product in the archive")
	}
	wantProse(t, get(h, "/shelf"), "In the archive (1)", "Quiet Harbour colour coat, batch B-77", "Put it back on the shelf")
	post(h, "/unarchive/s-0001", home, nil)
	if strings.Contains(get(h, "/shelf").Body.String(), "In the archive") {
		t.Error("a can is back on the shelf and still in the archive")
	}
}

// What would be refused is not offered.
func TestAHelperIsNotOfferedTheArchive(t *testing.T) {
	h := gated(t, threeRoles())
	label := colourLabel()
	if w := visit(h, "POST", "/products", "o", label); w.Code != http.StatusSeeOther {
		t.Fatal(w.Code)
	}
	if w := visit(h, "POST", "/pieces", "o", url.Values{"name": {"Linen press"}, "part1": {"doors"}}); w.Code != http.StatusSeeOther {
		t.Fatal(w.Code, w.Body.String())
	}
	for _, path := range []string{"/products/f-0001", "/pieces/p-0001"} {
		owner, helper := visit(h, "GET", path, "o", nil), visit(h, "GET", path, "h", nil)
		if !strings.Contains(owner.Body.String(), `action="/archive/`) {
			t.Errorf("%s: the owner has no way into the archive", path)
		}
		if helper.Code != http.StatusOK || strings.Contains(helper.Body.String(), `action="/archive/`) {
			t.Errorf("%s: a helper is offered the archive, or has no page: %d", path, helper.Code)
		}
	}
}
