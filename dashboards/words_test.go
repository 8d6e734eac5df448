package dashboards

import (
	"testing"
	"time"

	"recoat/drying"
)

// The Fahrenheit points are fixed by definition: 0 °C is 32 °F, 100 °C is
// 212 °F, and a difference of 5 K is one of 9 °F (NIST SP 811, appendix B.8).
func TestARecordHasTheTrueMinus(t *testing.T) {
	for text, want := range map[string]string{
		"least dew margin -2.01 K.": "least dew margin −2.01 K.", "-4": "−4", "gain 1, offset -1.4; next": "gain 1, offset −1.4; next",
		"Mon 5 May 2031 09:30:00 +00:00, d-0001, 10 - 20, -05:00": "Mon 5 May 2031 09:30:00 +00:00, d-0001, 10 - 20, -05:00",
	} {
		if got := minus(text); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestOneHourHasPassed(t *testing.T) {
	for spelt, want := range map[string]string{"1 h": "1 h has", "1 min": "1 min has", "11 min": "11 min have", "1 h 5 min": "1 h 5 min have"} {
		if got := have(spelt); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestUnitsOfTheShop(t *testing.T) {
	f := words{location: shopZone, fahrenheit: true}
	for got, want := range map[string]string{
		shopWords.temperature(-0.04): "0.0 °C",
		shopWords.temperature(-3.25): "−3.2 °C",
		f.temperature(0):             "32.0 °F",
		f.temperature(100):           "212.0 °F",
		f.temperature(-40):           "−40.0 °F",
		shopWords.difference(5.55):   "5.5 K",
		f.difference(5):              "9.0 °F",
		shopWords.limit(3):           "3 K",
		f.limit(3):                   "5.4 °F",
		percent(57.6):                "58 %",
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestClockCannotBeMisread(t *testing.T) {
	for after, want := range map[time.Duration]string{
		0:                   "21:40",
		345 * time.Minute:   "03:25",
		19 * time.Hour:      "Wed 16:40",
		-13 * time.Hour:     "Tue 08:40",
		21 * 24 * time.Hour: "31 Mar 2026",
	} {
		if got := shopWords.clock(evening.Add(after), evening); got != want {
			t.Errorf("%v after the evening: %q, want %q", after, got, want)
		}
	}
}

// An estimate is told to five minutes: the span rounded outwards, so that it
// never claims more than was reckoned.
func TestEstimatesAreToldToFiveMinutes(t *testing.T) {
	e := drying.Estimate{
		Low: evening.Add(61 * time.Minute), Likely: evening.Add(123 * time.Minute), High: evening.Add(181*time.Minute + time.Second),
	}
	if got := shopWords.likely(e, evening); got != "23:45" {
		t.Errorf("likely %q", got)
	}
	if got := shopWords.between(e, evening); got != "between 22:40 and 00:45" {
		t.Errorf("%q", got)
	}
}

func TestAge(t *testing.T) {
	for d, want := range map[time.Duration]string{
		-time.Second: "0 s ago", 6 * time.Second: "6 s ago", 119 * time.Second: "119 s ago",
		2 * time.Minute: "2 min ago", 3 * time.Hour: "3 h ago", 50 * time.Hour: "2 days ago",
	} {
		if got := age(d); got != want {
			t.Errorf("%v: %q, want %q", d, got, want)
		}
	}
}

func TestSentencesAndClauses(t *testing.T) {
	for text, want := range map[string][2]string{
		"the air is cold":     {"The air is cold.", "the air is cold"},
		"The air is cold.":    {"The air is cold.", "the air is cold"},
		"RH is 91 %":          {"RH is 91 %.", "RH is 91 %"},
		"Ändern hilft nicht!": {"Ändern hilft nicht!", "ändern hilft nicht!"},
		"":                    {"", ""},
	} {
		if got := sentence(text); got != want[0] {
			t.Errorf("sentence(%q) = %q", text, got)
		}
		if got := clause(text); got != want[1] {
			t.Errorf("clause(%q) = %q", text, got)
		}
	}
}

func TestEveryStageHasItsWords(t *testing.T) {
	for _, s := range drying.Stages() {
		if w := stageWords[s]; w.state == "" || w.may == "" || w.short == "" {
			t.Errorf("%v has no words", s)
		}
	}
}
