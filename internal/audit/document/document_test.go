package document

import (
	"bytes"
	"encoding/json"
	"html"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"recoat/internal/audit"
	"recoat/internal/audit/audittest"
	"recoat/internal/seal"
)

// made is a document of one coat, with a seal.
func made(t testing.TB, e *audit.Evidence) audit.Document {
	t.Helper()
	d := audit.Document{
		Format: audit.FormatName, Schema: 1, Title: "Coat " + e.Coat.ID, Made: e.Made.UTC(), Zone: "+02:00", Coats: []audit.Record{audit.Build(e)},
		Seals: []seal.Seal{seal.Seal{Seq: 17, Room: "back-room", Day: "2031-05-04", Count: 8633, Readings: 25899, Made: "2031-05-05T00:20:00.000Z", Added: 3}.Closed()},
	}
	var err error
	if d.Digest, err = d.Reckon(); err != nil {
		t.Fatal(err)
	}
	return d
}

var cases = map[string]func() *audit.Evidence{"clean": audittest.Clean, "dawn": audittest.Condensation, "cold": audittest.ColdFilm}

// RECOAT_PICTURES=FOLDER writes the golden documents: look at them.
func TestPictures(t *testing.T) {
	folder := os.Getenv("RECOAT_PICTURES")
	if folder == "" {
		t.Skip("RECOAT_PICTURES names no folder to write documents to")
	}
	for name, of := range cases {
		e := of()
		d := made(t, e)
		for _, paper := range []Paper{A4, Letter} {
			write(t, filepath.Join(folder, name+"-"+string(paper)+".pdf"), printed(t, d, e, paper))
		}
		write(t, filepath.Join(folder, name+".html"), paged(t, d, e))
	}
}

func write(t *testing.T, path string, content []byte) {
	t.Helper()
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
}

func printed(t testing.TB, d audit.Document, e *audit.Evidence, paper Paper) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := PDF(&b, d, []*audit.Evidence{e}, paper, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func paged(t testing.TB, d audit.Document, e *audit.Evidence) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := HTML(&b, d, []*audit.Evidence{e}, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// extracted is the text of a PDF as poppler's pdftotext finds it.
func extracted(t *testing.T, pdf []byte) string {
	t.Helper()
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Skip("pdftotext (poppler) is not installed, so no text of the PDF can be read back")
	}
	path := filepath.Join(t.TempDir(), "record.pdf")
	write(t, path, pdf)
	out, err := exec.CommandContext(t.Context(), "pdftotext", "-raw", path, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}

// numbers are those of a JSON text, as it writes them.
func numbers(t *testing.T, text []byte) []string {
	t.Helper()
	decoder := json.NewDecoder(bytes.NewReader(text))
	decoder.UseNumber()
	var all []string
	for {
		token, err := decoder.Token()
		if err != nil {
			return all
		}
		if n, ok := token.(json.Number); ok {
			all = append(all, n.String())
		}
	}
}

var digitRun = regexp.MustCompile(`-?[0-9]+(?:\.[0-9]+)?`)

func TestEveryNumberOfTheJSONIsInTheTextOfThePDFAndTheHTML(t *testing.T) {
	for name, of := range cases {
		e := of()
		d := made(t, e)
		var b bytes.Buffer
		if err := JSON(&b, d); err != nil {
			t.Fatal(err)
		}
		all := numbers(t, b.Bytes())
		if len(all) < 300 {
			t.Errorf("%s: the JSON holds %d numbers", name, len(all))
		}
		page := string(paged(t, d, e))
		page, _, _ = strings.Cut(page, `<script type="application/json"`)
		for kind, text := range map[string]string{
			"A4": extracted(t, printed(t, d, e, A4)), "Letter": extracted(t, printed(t, d, e, Letter)), "HTML": html.UnescapeString(page),
		} {
			there := map[string]bool{}
			for _, n := range digitRun.FindAllString(text, -1) {
				there[n] = true
				there[strings.TrimPrefix(n, "-")] = true
			}
			for _, n := range all {
				if !there[n] {
					t.Errorf("%s, %s: %s is missing", name, kind, n)
				}
			}
		}
	}
}

// hostile fills every text of a record with what would break a format that took
// it for more than text.
func hostile(e *audit.Evidence, text string) {
	for _, field := range []*string{
		&e.Coat.Piece, &e.Coat.Part.Name, &e.Coat.Part.Material, &e.Room, &e.Coat.Room, &e.Coat.Product.Label.Name, &e.Coat.Batch, &e.Coat.Mix, &e.Coat.Note, &e.Coat.Warned,
		&e.Coat.Reason, &e.Steps[0].Title, &e.Moisture[0].Note, &e.Sources[0].Node, &e.Sources[1].Check.Who, &e.Alerts[0].Title, &e.Alerts[0].Sent[0].Channel, &e.Edits[0].What,
		&e.Defects[0].Place, &e.Defects[0].Note,
	} {
		*field = text
	}
}

func dressed() *audit.Evidence {
	e, dawn := audittest.Clean(), audittest.Condensation()
	e.Edits, e.Defects = dawn.Edits, dawn.Defects
	return e
}

func TestHostileTextEndsAsText(t *testing.T) {
	for name, text := range map[string]string{
		"markup":   `</script><script>alert("x")</script><img src=x onerror=alert(1)>`,
		"formula":  `=HYPERLINK("http://x.example";"y")`,
		"PDF":      `) Tj ET Q (\) endstream endobj << /JS (app.alert(1)) >>`,
		"template": `{{.Title}} ${x} {pages}`,
		"controls": "a\x00b\u202ec\u2028d",
		"scripts":  "שידה خزانة 🪑 家具",
	} {
		e := dressed()
		hostile(e, text)
		d := made(t, e)
		page := string(paged(t, d, e))
		if strings.Contains(page, "<script>alert") || strings.Contains(page, "<img src=x") || strings.Count(page, "<script") != 3 {
			t.Errorf("%s: markup came through to the HTML", name)
		}
		found := extracted(t, printed(t, d, e, A4))
		if words := strings.Fields(map[string]string{"markup": "</script><script>alert", "formula": "=HYPERLINK", "PDF": "endstream", "template": "{{.Title}}", "controls": "[U+202E]", "scripts": "[U+1FA91]"}[name]); !strings.Contains(strings.ReplaceAll(found, "\n", ""), words[0]) {
			t.Errorf("%s: its text is not in the PDF", name)
		}
		var b bytes.Buffer
		if err := JSON(&b, d); err != nil {
			t.Fatal(err)
		}
		if checked, err := audit.Check(&b); err != nil || checked.Document.Coats[0].Coat.Piece != strings.ToValidUTF8(text, "\ufffd") {
			t.Errorf("%s: %v", name, err)
		}
		if checked, err := audit.Check(strings.NewReader(page)); err != nil || checked.Document == nil {
			t.Errorf("%s: the HTML does not verify: %v", name, err)
		}
	}
}

func TestATextOfAHundredKilobytesIsPrintedWhole(t *testing.T) {
	e := dressed()
	long := strings.Repeat("quite a long note ", 100<<10/18)
	hostile(e, "x")
	e.Coat.Note, e.Coat.Piece = long, strings.Repeat("W", 100<<10)
	d := made(t, e)
	text := extracted(t, printed(t, d, e, A4))
	if n := strings.Count(strings.Join(strings.Fields(text), " "), "quite"); n < 100<<10/18 {
		t.Errorf("%d of %d words are in the PDF", n, 100<<10/18)
	}
	if n := strings.Count(text, "W"); n < 2*100<<10 {
		t.Errorf("%d letters of the piece's name are in the PDF", n)
	}
	if page := paged(t, d, e); bytes.Count(page, []byte("quite")) < 100<<10/18 {
		t.Error("the HTML is cut short")
	}
}

func TestCellsAreNoFormulas(t *testing.T) {
	for in, want := range map[string]string{"=1+1": "'=1+1", "+1": "'+1", "-1": "'-1", "@x": "'@x", "\tx": " x", "a\nb": "a b", "oak": "oak", "＝1": "'＝1", "'=1": "''=1", "": ""} {
		if got := audit.Cell(in); got != want {
			t.Errorf("%q becomes %q, want %q", in, got, want)
		}
	}
}

// Decimation keeps the extremes of every stretch that a column shows, the ends,
// and the gaps.
func TestDecimationLosesNoExtreme(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	from := audittest.Evening
	for range 20 {
		var points []point
		n := 5000 + random.IntN(20000)
		for i := range n {
			v := random.NormFloat64()
			if i/100%17 == 3 {
				v = math.NaN()
			}
			points = append(points, point{from.Add(time.Duration(i) * 10 * time.Second), v})
		}
		points[random.IntN(n)].value, points[random.IntN(n)].value = 99, -99
		to := points[n-1].at.Add(time.Second)
		for _, columns := range []int{50, 300, 700} {
			kept := decimate(points, from, to, columns)
			if len(points) > 4*columns && len(kept) > 8*columns {
				t.Errorf("%d points are left of %d for %d columns", len(kept), n, columns)
			}
			least, most, _ := bounds(points)
			l, m, _ := bounds(kept)
			if l != least || m != most {
				t.Errorf("extremes %v to %v became %v to %v", least, most, l, m)
			}
			gaps := func(list []point) (count int) {
				for i, p := range list {
					if math.IsNaN(p.value) && (i == 0 || !math.IsNaN(list[i-1].value)) {
						count++
					}
				}
				return count
			}
			if gaps(kept) < min(gaps(points), 1) || kept[0] != points[0] && !math.IsNaN(points[0].value) {
				t.Error("a gap or the beginning is gone")
			}
		}
	}
}

func TestAGapInTheSamplesIsAGapInTheCurve(t *testing.T) {
	e := audittest.Condensation()
	s := seriesOf(e.Samples, audittest.Evening, audittest.Evening.Add(12*time.Hour))
	for i := 1; i < len(s.air); i++ {
		if between := s.air[i].at.Sub(s.air[i-1].at); between > 16*time.Minute && !math.IsNaN(s.air[i-1].value) && !math.IsNaN(s.air[i].value) {
			t.Errorf("a line is drawn over %v without readings", between)
		}
	}
}

func BenchmarkHTMLOfAMonth(b *testing.B) {
	e := audittest.Month()
	for b.Loop() {
		paged(b, made(b, e), e)
	}
	b.ReportMetric(float64(len(e.Samples)), "rounds")
}

func BenchmarkPDFOfAMonth(b *testing.B) {
	e := audittest.Month()
	for b.Loop() {
		printed(b, made(b, e), e, A4)
	}
	b.ReportMetric(float64(len(e.Samples)), "rounds")
}
