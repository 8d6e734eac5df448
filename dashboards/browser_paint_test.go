package dashboards

import (
	"math"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// BenchmarkBrowserFirstPaint is how long it takes until a page shows anything,
// over loopback, as Chromium tells it. The histories behind it are as wide as
// the store's: some hundreds of means, whatever the span. Reading a year of them
// from a real store is BenchmarkBandOfAYear of the folder backend.
func BenchmarkBrowserFirstPaint(b *testing.B) {
	page := startBrowser(b)
	server := httptest.NewServer(New(Options{
		House: newHouse(plannedRoom(b)), History: fakeHistory{}, Doings: fakeDoings{}, Book: filledBook(b), Location: shopZone,
		Now: func() time.Time { return evening },
	}))
	b.Cleanup(server.Close)
	for name, address := range map[string]string{"tonight": "/", "room-year": "/room/back-room?span=1y", "plan": "/plan"} {
		b.Run(name, func(b *testing.B) {
			least := math.Inf(1)
			sum := 0.0
			for b.Loop() {
				page.open(b, server.URL+address, 390, "light")
				page.do(b, chromedp.Sleep(100*time.Millisecond))
				ms := evaluate[float64](b, page, `performance.getEntriesByName("first-contentful-paint")[0]?.startTime ?? -1`)
				if ms < 0 {
					b.Fatal("nothing was painted")
				}
				least, sum = min(least, ms), sum+ms
			}
			b.ReportMetric(sum/float64(b.N), "ms-to-paint")
			b.ReportMetric(least, "ms-least")
		})
	}
}
