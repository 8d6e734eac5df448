package dashboards

import (
	"context"
	"encoding/json"
	"fmt"
	"hash/fnv"
	"net/http"
	"strconv"
	"time"

	"recoat/internal/room"
)

const (
	maxStreams  = 64               // open event streams; a phone and a tablet need two
	slowClient  = 10 * time.Second // a write that takes longer ends the stream
	restBetween = time.Second      // so long at least from one change to the next
)

// version names the state of the rooms: equal states have equal versions, so
// that a page knows whether what it shows still holds, across restarts too.
func version(snapshots []room.Snapshot) string {
	h := fnv.New64a()
	if err := json.NewEncoder(h).Encode(wireRooms(snapshots)); err != nil {
		// A value JSON has no word for: take every reckoning as a change.
		for _, r := range snapshots {
			fmt.Fprintln(h, r.Room, r.At.UnixNano())
		}
	}
	return fmt.Sprintf("%016x", h.Sum64())
}

// version is that of the rooms as they are, shared by all who ask for it at once.
func (s *server) version() string {
	return s.state.get(func() string { return version(s.house.Snapshots()) })
}

// events tells an open page when to fetch itself again. A page that comes back
// with the version it last saw hears nothing until that changed.
func (s *server) events(w http.ResponseWriter, r *http.Request) {
	if s.streams.Add(1) > maxStreams {
		s.streams.Add(-1)
		http.Error(w, "Too many pages are open. Close some.", http.StatusServiceUnavailable)
		return
	}
	defer s.streams.Add(-1)
	ticks, changes := s.house.Watch(r.Context()), s.journalChanges(r.Context())
	w.Header().Set("Content-Type", "text/event-stream")
	out := stream{w: w, control: http.NewResponseController(w), seen: r.Header.Get("Last-Event-ID")}
	if out.send("retry: 3000\n\n") != nil || out.changed(s.version()) != nil {
		return
	}
	if out.journal(s.newest(r.Context())) != nil {
		return
	}
	s.follow(r, &out, ticks, changes)
}

// journalChanges ticks after each change of the journal; nil where there is
// none.
func (s *server) journalChanges(ctx context.Context) <-chan struct{} {
	if s.book.News == nil {
		return nil
	}
	return s.book.News.Watch(ctx)
}

// newest is the number of the journal's newest change, empty where it is not
// known.
func (s *server) newest(ctx context.Context) string {
	if s.book.News == nil {
		return ""
	}
	seq, err := s.book.News.Newest(ctx)
	if err != nil {
		s.log.Error("read the newest change", "err", err)
		return ""
	}
	return strconv.FormatInt(seq, 10)
}

// follow passes ticks on until the page goes away or cannot keep up.
func (s *server) follow(r *http.Request, out *stream, ticks, changes <-chan struct{}) {
	beat := time.NewTicker(s.heartbeat)
	defer beat.Stop()
	for {
		var err error
		select {
		case <-r.Context().Done():
			return
		case <-beat.C:
			err = out.send("event: beat\ndata: \n\n")
		case _, open := <-changes:
			if !open {
				return
			}
			err = out.journal(s.newest(r.Context()))
		case _, open := <-ticks:
			if !open {
				return
			}
			err = out.changed(s.version())
			if err == nil && !rest(r, restBetween) {
				return
			}
		}
		if err != nil {
			return // gone or too slow: it will ask again
		}
	}
}

// rest waits, and reports whether the page is still there.
func rest(r *http.Request, d time.Duration) bool {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-r.Context().Done():
		return false
	case <-timer.C:
		return true
	}
}

// stream writes events, each within a deadline of its own.
type stream struct {
	w       http.ResponseWriter
	control *http.ResponseController
	seen    string // version the page has
}

func (s *stream) changed(version string) error {
	if version == s.seen {
		return nil
	}
	s.seen = version
	return s.send("id: " + version + "\nevent: changed\ndata: " + version + "\n\n")
}

// journal tells the number of the journal's newest change.
func (s *stream) journal(newest string) error {
	if newest == "" {
		return nil
	}
	return s.send("event: journal\ndata: " + newest + "\n\n")
}

func (s *stream) send(text string) error {
	if err := s.control.SetWriteDeadline(time.Now().Add(slowClient)); err != nil {
		return fmt.Errorf("set the deadline of an event: %w", err)
	}
	if _, err := s.w.Write([]byte(text)); err != nil {
		return fmt.Errorf("write an event: %w", err)
	}
	return s.control.Flush()
}
