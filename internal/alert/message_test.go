package alert

import (
	"strings"
	"testing"
	"unicode/utf8"
)

func TestComposeTellsEachChannelOfEachCause(t *testing.T) {
	e := Episode{ID: "e1", Key: margin, Severity: Warning, Told: 1}
	got := Compose([]Transition{
		{Episode: e, Cause: Untold, Title: "nothing to tell"},
		{Episode: e, Cause: First, Title: "Near the dew point", Body: "Warm it.", At: dusk},
	}, []string{"phone", "mail"})
	if len(got) != 2 || got[0].Channel != "phone" || got[1].Channel != "mail" {
		t.Fatalf("%+v", got)
	}
	for _, m := range got {
		if m.Episode != "e1" || m.Key != margin || m.Cause != First || m.Severity != Warning || m.Title != "Near the dew point" || m.Body != "Warm it." || !m.At.Equal(dusk) {
			t.Errorf("%+v", m)
		}
	}
}

func TestMessageIDsAreStableAndApart(t *testing.T) {
	seen := map[string]bool{}
	for _, id := range []string{messageID("e1", 1, "phone"), messageID("e1", 2, "phone"), messageID("e1", 1, "mail"),
		messageID("e2", 1, "phone"), messageID("e", 11, "phone"), messageID(`e" 1`, 1, "phone")} {
		if seen[id] || len(id) != 32 || strings.Trim(id, "0123456789abcdef") != "" {
			t.Errorf("%q", id)
		}
		seen[id] = true
	}
	if again := messageID("e1", 1, "phone"); !seen[again] {
		t.Error("not stable")
	}
}

// A name that a person typed ends up in mail subjects and headers.
func FuzzComposeSplitsNoHeader(f *testing.F) {
	f.Add("title\r\nBcc: everyone", "body\r\nmore")
	f.Add(strings.Repeat("ä", 100), strings.Repeat("\u2028", 2000))
	f.Add("\xff\x00", "\x85")
	f.Fuzz(func(t *testing.T, title, body string) {
		m := Compose([]Transition{{Cause: First, Title: title, Body: body}}, []string{"phone"})[0]
		if strings.ContainsAny(m.Title, "\r\n\x00\u0085\u2028\u2029") || strings.ContainsAny(m.Body, "\r\x00\u0085\u2028\u2029") {
			t.Errorf("%q %q", m.Title, m.Body)
		}
		if !utf8.ValidString(m.Title) || !utf8.ValidString(m.Body) {
			t.Errorf("not UTF-8: %q %q", m.Title, m.Body)
		}
		if utf8.RuneCountInString(m.Title) > maxTitle || utf8.RuneCountInString(m.Body) > maxBody {
			t.Errorf("too long: %q %q", m.Title, m.Body)
		}
	})
}
