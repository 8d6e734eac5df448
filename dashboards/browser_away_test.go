package dashboards

import (
	"net"
	"net/http"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// A page that was read once is there when the hub is away, with its age; it is
// live again when the hub comes back.
func TestBrowserKeepsTheLastState(t *testing.T) {
	b := startBrowser(t)
	listener, err := (&net.ListenConfig{}).Listen(t.Context(), "tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := listener.Addr().String()
	start := time.Now()
	pages := New(Options{House: newHouse(twoCoats(evening)), Location: shopZone, Now: func() time.Time { return evening.Add(time.Since(start)) }})
	server := &http.Server{Handler: pages, ReadHeaderTimeout: time.Second}
	go func() { _ = server.Serve(listener) }()
	home := "http://" + address + "/"
	b.open(t, home, 390, "light")
	b.text(t, "Fit to coat")
	evaluate[bool](t, b, `navigator.serviceWorker.ready.then(() => { document.body.dataset.ready = "1"; }); true`)
	b.do(t, chromedp.WaitVisible("body[data-ready]"))
	b.open(t, home, 390, "light") // through the worker, which keeps it
	b.text(t, "Fit to coat")
	if err := server.Close(); err != nil {
		t.Fatal(err)
	}
	b.open(t, home, 390, "light")
	b.text(t, "Fit to coat", "No word from the hub since", "What stands here is not live. It was kept")

	listener, err = (&net.ListenConfig{}).Listen(t.Context(), "tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	again := &http.Server{Handler: New(Options{House: newHouse(dampRoom(evening)), Location: shopZone, Now: func() time.Time { return evening }}), ReadHeaderTimeout: time.Second}
	t.Cleanup(func() { _ = again.Close() })
	go func() { _ = again.Serve(listener) }()
	b.text(t, "Not fit: the coldest surface is 0.5 K below the dew point")
	if shown := evaluate[bool](t, b, `!document.getElementById("lost").hidden`); shown {
		t.Error("the page is live, and still says that it is not")
	}
}
