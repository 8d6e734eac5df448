package dashboards

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"strings"
	"testing"

	"recoat/drying"
	"recoat/internal/shop"
	"recoat/internal/shop/mix"
	"recoat/internal/shop/schedule"
	"recoat/sensors"
)

// formed is a form as a stranger may send it; false where it is none.
func formed(text string) (answers, bool) {
	given, err := url.ParseQuery(text)
	return answers{given, map[string]string{}}, err == nil
}

func formServer() *server {
	return &server{words: words{location: shopZone}, now: evening.UTC}
}

// A form that is taken holds finite figures within their bounds, whatever was
// typed; one that is not says why.
func FuzzForms(f *testing.F) {
	f.Add("part=p-0001.1&product=f-0001&film=4&film-unit=mil&used=0,25&used-unit=L&area=1.2&area-unit=m2&thinned=5%25&step=2&applied=2026-05-31T21:40")
	f.Add("product=f-0001&amount=NaN&amount-unit=L&keeps=2147483647&keeps-unit=mo&best_by=2026-02-30&opened=9999-12-31")
	f.Add("name=press&part1=top&thickness1=1e999&thinned=-0&area=1e308&area-unit=sqft&film=0x1p3")
	f.Add("name=grey&basis=volume&part1=white&share1=3/2&part2=black&share2=1e9&amount=1/0")
	f.Add("from1=now&to1=8589934592&salt1=sodium-chloride&from2=-1&made=2026-05-31T21:40:00Z&tap=x")
	s := formServer()
	f.Fuzz(func(t *testing.T, text string) {
		a, ok := formed(text)
		if !ok {
			return
		}
		app := s.applicationOf(a, evening)
		if a.ok() && !(sane(float64(app.Film), app.UsedML, app.AreaM2, app.ThinnedPct) && app.ThinnedPct <= 200 && (app.Film == 0 || app.Film >= shop.ThinnestFilm && app.Film <= shop.ThickestFilm)) {
			t.Fatalf("%q is taken for %+v", text, app)
		}
		a, _ = formed(text)
		if c := s.canOf(a); a.ok() && (!sane(c.LeftML) || c.KeepsDays < 0) {
			t.Fatalf("%q is taken for %+v", text, c)
		}
		a, _ = formed(text)
		p := a.piece()
		for _, part := range p.Parts {
			if a.ok() && !sane(part.ThicknessMM) {
				t.Fatalf("%q is taken for %+v", text, part)
			}
		}
		a, _ = formed(text)
		if r := a.recipe(); a.ok() && r.Check() == nil {
			if _, err := json.Marshal(r); err != nil {
				t.Fatalf("%q is taken for %+v: %v", text, r, err)
			}
		}
		mixShown(shop.Mix{Recipe: mix.Recipe{Name: "grey", Basis: mix.ByMass}}, a.text("amount"))
		if v := s.planAsked(a.given, nil, evening); v.At < v.From || v.At > v.To || v.Coats < 1 || v.Coats > mostPlanned {
			t.Fatalf("%q asks for %+v", text, v)
		}
		for _, why := range a.wrong {
			if why == "" {
				t.Fatalf("%q is refused without a word", text)
			}
		}
	})
}

// sane says that figures are finite and not below nothing.
func sane(all ...float64) bool {
	for _, v := range all {
		if !sensors.IsFinite(v) || v < 0 {
			return false
		}
	}
	return true
}

// A label typed into a page becomes a product file: no field of it can write
// another.
func FuzzLabelForm(f *testing.F) {
	f.Add(colourLabel().Encode())
	injected := colourLabel()
	injected.Set("name", "x\"\nfamily = \"lacquer")
	injected.Set("stated.film", "4\" # ")
	f.Add(injected.Encode())
	f.Add("name=a&kind=waterborne/acrylic&stated.air=1e999&stated.rh=\u0661&stated.recoat=2h&class=\\")
	f.Fuzz(func(t *testing.T, text string) {
		a, ok := formed(text)
		if !ok {
			return
		}
		p, ok := a.label()
		if ok != a.ok() {
			t.Fatalf("%q: taken %v, and wrong with it %v", text, ok, a.wrong)
		}
		if !ok {
			return
		}
		family, kind, _ := strings.Cut(a.text("kind"), "/")
		if p.Name != a.text("name") || string(p.Family) != family || p.Kind != kind {
			t.Fatalf("%q became %q, %s/%s", text, p.Name, p.Family, p.Kind)
		}
		if _, err := p.Complete(); err != nil {
			t.Fatalf("%q is taken, and then: %v", text, err)
		}
	})
}

// A schedule that a form gives and the journal takes has a JSON that is read
// again as the same steps.
func FuzzScheduleForm(f *testing.F) {
	f.Add("kind-1=sand&grits-1=150,220&order-1=10&kind-2=colour&order-2=20&stage-2=handle&times-2=2,5&least-2=24&of-2=1&gate2-2=handle")
	f.Add(`kind-1=other&words-1=doors&order-1=1&id-1=1000&keep-1=[{"stage":"handle","times":1}]`)
	f.Add("kind-1=other&times-1=NaN&least-1=inf&order-1=-9223372036854775808&stage-1=x")
	f.Fuzz(func(t *testing.T, text string) {
		a, ok := formed(text)
		if !ok {
			return
		}
		steps := a.steps()
		parts := []schedule.Part{{ID: "p-0001.1", Number: 1, Name: "top", Steps: steps}, {ID: "p-0001.2", Number: 2, Name: "doors"}}
		if !a.ok() || schedule.Check(parts) != nil {
			return
		}
		again, err := json.Marshal(steps)
		if err != nil {
			t.Fatalf("%q is taken, and cannot be kept: %v", text, err)
		}
		back, err := schedule.ReadSteps(strings.NewReader(string(again)))
		if err != nil {
			t.Fatalf("%s is kept, and cannot be read: %v", again, err)
		}
		if third, err := json.Marshal(back); err != nil || string(third) != string(again) {
			t.Fatalf("%s came back as %s, %v", again, third, err)
		}
	})
}

// Wherever a form or an address says to go next, it is one of our own pages.
func FuzzNextPage(f *testing.F) {
	for _, to := range []string{"/rooms/attic", "//evil.example", `/\evil.example`, "https://evil.example", "/%2f/evil.example", "javascript:alert(1)", "/a\nb", "/\t/evil.example", "/..//evil.example"} {
		f.Add(to)
	}
	f.Fuzz(func(t *testing.T, to string) {
		for _, got := range []string{local(to), backTo(answers{given: url.Values{"back": {to}}}, "/")} {
			w := httptest.NewRecorder()
			http.Redirect(w, httptest.NewRequest(http.MethodPost, "http://hub.example/login", nil), got, http.StatusSeeOther)
			u, err := url.Parse(w.Header().Get("Location"))
			if err != nil || u.Scheme != "" || u.Host != "" || !strings.HasPrefix(got, "/") || strings.HasPrefix(got, "//") || strings.HasPrefix(u.Path, `/\`) {
				t.Fatalf("%q leads to %q: %v", to, w.Header().Get("Location"), err)
			}
		}
		if undo := undoOf("coat", to); undo != "" && !anyID.MatchString(to) {
			t.Fatalf("%q leads to %q", to, undo)
		}
	})
}

// A host is ours by its address, as this machine, or by the list: nothing else
// makes it so.
func FuzzHost(f *testing.F) {
	for _, h := range []string{"localhost:8080", "[::1]:80", "192.0.2.7", "evil.example", "localhost.evil.example", "workshop.", "WORKSHOP:1", "[workshop", "localhost:808@evil.example", "::1%eth0"} {
		f.Add(h)
	}
	f.Fuzz(func(t *testing.T, host string) {
		if !ours(host, []string{"workshop"}) {
			return
		}
		name, err := url.Parse("http://" + host + "/")
		if err != nil {
			return // no browser sends it
		}
		bare := strings.ToLower(strings.TrimSuffix(name.Hostname(), "."))
		if _, err := netip.ParseAddr(bare); err != nil && bare != "localhost" && bare != "workshop" && !strings.EqualFold(bare, "workshop") {
			t.Fatalf("%q is %q, and taken for ours", host, bare)
		}
	})
}

// What the record of changes holds is told in the shop's unit, or as it is.
func FuzzPast(f *testing.F) {
	f.Add([]byte(`{"film_um":100,"note":"at 20 °C"}`), "3.2 K at −4.5 °C")
	f.Add([]byte(`{"a":{"b":[1e999]}} x`), strings.Repeat("9", 400)+" °C")
	fahrenheit := words{location: shopZone, fahrenheit: true}
	f.Fuzz(func(t *testing.T, record []byte, text string) {
		var fields map[string]any
		if told := fieldsOf(record); json.Unmarshal(record, &fields) == nil && len(told) != len(fields) {
			t.Fatalf("of %s is told %v", record, told)
		}
		if got := fahrenheit.inUnits(text); !warmth.MatchString(text) && got != text || warmth.MatchString(text) && !strings.Contains(got, "°F") && len(text) < 300 {
			t.Fatalf("%q is told as %q", text, got)
		}
	})
}

// A stage is one of those there are.
func FuzzStage(f *testing.F) {
	f.Add("handle")
	f.Add("")
	f.Fuzz(func(t *testing.T, text string) {
		a := answers{url.Values{"stage": {text}}, map[string]string{}}
		if stage := a.stage("stage"); stage != nil && a.ok() && int(*stage) >= drying.StageCount {
			t.Fatalf("%q is the stage %d", text, *stage)
		}
	})
}
