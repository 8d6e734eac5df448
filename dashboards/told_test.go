package dashboards

import (
	"encoding/csv"
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/internal/alert"
)

// toldHandler has what was told of the back room besides what was measured and
// done there.
func toldHandler() http.Handler {
	return New(Options{
		House: newHouse(backRoom(evening)), History: fakeHistory{}, Doings: fakeDoings{}, Told: fakeTold{},
		Location: shopZone, Now: func() time.Time { return evening },
	})
}

func TestAlertsStandOnTheChart(t *testing.T) {
	h := toldHandler()
	wantProse(t, get(h, "/room/back-room?span=1d"), "Alerts criticalwarninginfo",
		"ATue 16:40 to 19:10Dew margin falls under 3 K tonight warning",
		"BTue 17:10Touch test, then recoat: Linen press, top info",
		"Csince Tue 21:00Near the dew point: Linen press, doors. Warm it. critical",
		"Marks", "An alert stands from its mark to the end of its bar.")
	svg := get(h, "/room/back-room/history.svg?span=1d").Body.String()
	for _, want := range []string{"A  Tue 16:40 to 19:10  Dew margin falls under 3 K tonight (warning)", `<circle cy="9" r="5"`, `fill="#8d2e15" stroke="#8d2e15"`} {
		if !strings.Contains(svg, want) {
			t.Errorf("the drawing has no %q", want)
		}
	}
	if html := get(handler(newHouse(backRoom(evening)), Book{}), "/room/back-room").Body.String(); strings.Contains(html, `data-panel="alerts"`) {
		t.Error("there is a lane of alerts where nothing was told")
	}
}

// The table that is kept says in which rows an alert stood and when something
// was done.
func TestMarksAreInTheTableThatIsKept(t *testing.T) {
	all, err := csv.NewReader(get(toldHandler(), "/room/back-room/history.csv?span=1d").Body).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	n := len(all[0])
	if diff := cmp.Diff([]string{"done", "alerts"}, all[0][n-2:]); diff != "" {
		t.Fatal(diff)
	}
	stood, done := map[string][2]string{}, 0
	for _, row := range all[1:] {
		for _, title := range strings.Split(row[n-1], "; ") {
			s := stood[title]
			if s[0] == "" {
				s[0] = row[0]
			}
			s[1] = row[0]
			stood[title] = s
		}
		if row[n-2] != "" {
			done++
		}
	}
	// A point stands for the six minutes after it; nothing was measured from
	// 18:10 to 19:40, so that the last row before stands for the alert's end.
	if got := stood["Dew margin falls under 3 K tonight"]; got != [2]string{"2026-03-10T15:40:00Z", "2026-03-10T17:10:00Z"} {
		t.Errorf("the warning stands in rows %v", got)
	}
	if got := stood["Touch test, then recoat: Linen press, top"]; got[0] != got[1] || got[0] != "2026-03-10T16:10:00Z" {
		t.Errorf("what is told once stands in rows %v", got)
	}
	if done != 2 {
		t.Errorf("%d rows have something done, want a coat and a touch test", done)
	}
}

// What is sent to be moved into is more than what is shown, and its marks are
// those of the page's lists.
func TestMarksAreThoseOfThePage(t *testing.T) {
	var h wireHistory
	from, to := evening.Add(-time.Hour), evening.Add(-30*time.Minute)
	if err := json.Unmarshal(get(toldHandler(), "/api/rooms/back-room/history?beside=1&from="+unix(from)+"&to="+unix(to)).Body.Bytes(), &h); err != nil {
		t.Fatal(err)
	}
	if h.FromS != from.Unix() || h.ToS != to.Unix() || h.AtS[0] >= h.FromS || h.AtS[len(h.AtS)-1] <= h.ToS {
		t.Errorf("shown from %d to %d, readings from %d to %d", h.FromS, h.ToS, h.AtS[0], h.AtS[len(h.AtS)-1])
	}
	if len(h.Done) != 2 || h.Done[0].Mark != "1" || h.Done[1].Mark != "" {
		t.Errorf("the coat is within and the touch test is not: %+v", h.Done)
	}
}

func TestAlertsThatStandTogetherDoNotCoverEachOther(t *testing.T) {
	a := axis{from: evening, to: evening.Add(24 * time.Hour), location: shopZone}
	var all []alert.Episode
	for i := range 40 {
		all = append(all, alert.Episode{ID: string(rune('!' + i)), State: alert.Cleared, RaisedAt: evening.Add(time.Duration(i) * 36 * time.Minute), EndedAt: evening.Add(time.Duration(i)*36*time.Minute + time.Hour)})
	}
	marks := shopWords.told(a, all)
	if len(marks) != mostLetters || marks[0].Mark != "A" || marks[mostLetters-1].Mark != "Z" {
		t.Fatalf("%d marks", len(marks))
	}
	last := map[int]time.Time{}
	for _, m := range marks {
		if before, ok := last[m.row]; ok && a.at(m.from)-a.at(before) < toldApart {
			t.Errorf("%s stands on the one before in row %d", m.Mark, m.row)
		}
		last[m.row] = m.from
	}
	if h := toldHeight(marks); h != toldRow*toldRows {
		t.Errorf("the lane is %d px high", h)
	}
	late := alert.Episode{State: alert.Cleared, RaisedAt: evening.Add(-time.Hour), EndedAt: evening.Add(-time.Minute)}
	if got := shopWords.told(a, []alert.Episode{late}); len(got) != 0 {
		t.Errorf("what was over before is marked: %+v", got)
	}
}
