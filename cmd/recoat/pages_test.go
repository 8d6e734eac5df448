package main

import (
	"context"
	"encoding/json"
	"net/http"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

var address = regexp.MustCompile(`http://127\.0\.0\.1:\d+/`)

// rooms is the part of /api/rooms that the test reads.
type rooms struct {
	Rooms []struct {
		Room    string
		Verdict struct {
			State   string
			Reasons []struct{ Text string }
		}
		Air *struct {
			Air      float64 `json:"air_c"`
			Humidity float64 `json:"rh_pct"`
		}
		Surfaces []struct{ Measured bool }
		Coats    []struct {
			Piece  string
			Stages []struct {
				Stage  string
				Likely *time.Time `json:"ready_at"`
			}
		}
	}
}

func ask(t *testing.T, url string) (r rooms) {
	t.Helper()
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url+"api/rooms", nil)
	if err != nil {
		t.Fatal(err)
	}
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	if err := json.NewDecoder(response.Body).Decode(&r); err != nil {
		t.Fatal(err)
	}
	return r
}

// settled reports whether a room shows what a finisher needs.
func (r rooms) settled() bool {
	if len(r.Rooms) != 1 || r.Rooms[0].Air == nil || len(r.Rooms[0].Surfaces) != 2 || len(r.Rooms[0].Coats) != 2 {
		return false
	}
	for _, s := range r.Rooms[0].Coats[0].Stages {
		if s.Stage == "dry-to-recoat" && s.Likely != nil {
			return len(r.Rooms[0].Verdict.Reasons) > 0
		}
	}
	return false
}

func TestUpShowsAVerdictReadingsAndAReadyTime(t *testing.T) {
	path, _ := writeConfig(t, "http://127.0.0.1:9/nobody")
	url := startForAddress(t, "up", "--simulate", "--config", path)
	var last rooms
	for deadline := time.Now().Add(2 * time.Minute); !last.settled(); time.Sleep(200 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatalf("after two minutes it still shows %+v", last)
		}
		last = ask(t, url)
	}
	room := last.Rooms[0]
	if room.Air.Air < 5 || room.Air.Air > 30 || room.Air.Humidity < 15 || room.Air.Humidity > 95 || !room.Surfaces[0].Measured {
		t.Errorf("no room is like that: %+v", room.Air)
	}
	readAsAFinisher(t, url)
}

// readAsAFinisher opens both pages in a browser, reads what they say, and waits
// until Tonight has renewed itself.
func readAsAFinisher(t *testing.T, url string) {
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("no chromium on PATH: the pages of the running recoat are not opened in a browser")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.UserDataDir(t.TempDir()), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.NoFirstRun, chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true))
	alloc, stopAlloc := chromedp.NewExecAllocator(t.Context(), options...)
	defer stopAlloc()
	browser, stop := chromedp.NewContext(alloc)
	defer stop()
	ctx, cancel := context.WithTimeout(browser, 2*time.Minute)
	defer cancel()
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(390, 900), chromedp.Navigate(url), chromedp.WaitVisible("h1")); err != nil {
		t.Fatal(err)
	}
	read := func(script string) string {
		text, err := chromedp.Run(ctx, chromedp.Evaluate[string](script))
		if err != nil {
			t.Fatal(err)
		}
		return text
	}
	const all = `document.body.innerText.replace(/\s+/g, " ")`
	tonight := read(all)
	for _, want := range []string{"The room, its pieces and its coats are simulated.", "Back room", "dew point", "Linen press, doors", "Quiet Harbour colour coat", "What to do next", "Times are estimates", "touch decides"} {
		if !strings.Contains(tonight, want) {
			t.Errorf("Tonight never says %q:\n%s", want, tonight)
		}
	}
	if !regexp.MustCompile(`[Dd]ry to recoat (likely )?at|can take the next coat|recoat \d\d:\d\d`).MatchString(tonight) {
		t.Errorf("Tonight gives no time for the next coat:\n%s", tonight)
	}
	awaitRenewal(t, read)
	if err := chromedp.Do(ctx, chromedp.Navigate(url+"room/back-room"), chromedp.WaitVisible("h1")); err != nil {
		t.Fatal(err)
	}
	room := read(all)
	for _, want := range []string{"The room, its pieces and its coats are simulated.", "The air now", "Air temperature", "Relative humidity", "Surfaces", "Linen press, top"} {
		if !strings.Contains(room, want) {
			t.Errorf("Room never says %q:\n%s", want, room)
		}
	}
}

// awaitRenewal waits until the page has swapped in a later reading by itself.
func awaitRenewal(t *testing.T, read func(string) string) {
	t.Helper()
	const stamp = `document.querySelector("time[data-ago]").dateTime`
	first := read(stamp)
	for deadline := time.Now().Add(time.Minute); read(stamp) == first; time.Sleep(250 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatalf("Tonight still shows the reading of %s after a minute", first)
		}
	}
}
