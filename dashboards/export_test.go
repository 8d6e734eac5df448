package dashboards

import (
	"encoding/xml"
	"errors"
	"io"
	"net/http"
	"strings"
	"testing"

	"recoat/internal/recording"
)

// A table that was kept is a readings file: the program's own reader takes it,
// and finds what the page showed.
func TestATableThatWasKeptCanBeReadAgain(t *testing.T) {
	w := get(handler(newHouse(backRoom(evening)), Book{}), "/room/back-room/history.csv?span=1d")
	if w.Code != http.StatusOK || !strings.Contains(w.Header().Get("Content-Disposition"), `filename="room-back-room-20260309-2040-20260310-2040.csv"`) {
		t.Fatalf("status %d, %v", w.Code, w.Header())
	}
	samples, report, err := recording.Read(strings.NewReader(w.Body.String()), shopZone)
	if err != nil || len(report.Problems) > 0 {
		t.Fatal(err, report.Problems)
	}
	if len(samples) < 200 {
		t.Fatalf("only %d rows", len(samples))
	}
	points, err := fakeHistory{}.Band(t.Context(), "", evening.AddDate(0, 0, -1), evening)
	if err != nil {
		t.Fatal(err)
	}
	last, want := samples[len(samples)-1].Conditions, points[len(points)-1]
	if d := float64(last.Air - *want.Air); d > 0.001 || d < -0.001 || last.Surface >= last.Air || last.Humidity == 0 {
		t.Errorf("the last row is %+v, want the air at %v", last, *want.Air)
	}
}

func TestADrawingThatWasKeptIsWellFormed(t *testing.T) {
	for target, status := range map[string]int{"/room/back-room/history.svg?span=1y": http.StatusOK, "/room/cellar/history.svg": http.StatusNotFound} {
		w := get(handler(newHouse(backRoom(evening)), Book{}), target)
		if w.Code != status {
			t.Fatalf("%s: status %d", target, w.Code)
		}
		if status != http.StatusOK {
			continue
		}
		decoder := xml.NewDecoder(w.Body)
		paths := 0
		for {
			token, err := decoder.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
			if e, ok := token.(xml.StartElement); ok && e.Name.Local == "path" {
				paths++
			}
		}
		if paths < 5 {
			t.Errorf("%d lines are drawn, want air, dew point, surface, humidity and wood moisture", paths)
		}
	}
}
