package dashboards

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// luminance and contrast follow WCAG 2.2, "relative luminance" and "contrast
// ratio" (W3C Recommendation, 5 October 2023).
func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	v, err := strconv.ParseUint(hex, 16, 32)
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		c := float64(v>>(16-8*i)&0xff) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += weight * c
	}
	return sum
}

func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	la, lb := luminance(t, a), luminance(t, b)
	return (math.Max(la, lb) + 0.05) / (math.Min(la, lb) + 0.05)
}

func TestContrast(t *testing.T) {
	if got := contrast(t, "000000", "ffffff"); math.Abs(got-21) > 1e-9 {
		t.Fatalf("black on white is 21:1 by definition, not %v", got)
	}
	css := string(loadAssets(assetFiles).files["recoat.css"].body)
	light, night, found := strings.Cut(css, "prefers-color-scheme: dark")
	if !found {
		t.Fatal("there is no night theme")
	}
	night, _, _ = strings.Cut(night, "\n}\n")
	colour := regexp.MustCompile(`--([a-z]+): #([0-9a-f]{6});`)
	for theme, text := range map[string]string{"light": light, "night": night} {
		colours := map[string]string{}
		for _, m := range colour.FindAllStringSubmatch(text, -1) {
			colours[m[1]] = m[2]
		}
		for _, c := range []struct {
			on, of string
			least  float64
		}{
			{"ink", "paper", 7}, {"ink", "sheet", 7}, {"soft", "paper", 4.5}, {"soft", "sheet", 4.5},
			{"accent", "paper", 4.5}, {"warn", "paper", 4.5}, {"ink", "wash", 4.5},
		} {
			if got := contrast(t, colours[c.on], colours[c.of]); got < c.least {
				t.Errorf("%s theme: %s on %s is %.2f:1, needs %v:1", theme, c.on, c.of, got, c.least)
			}
		}
	}
}
