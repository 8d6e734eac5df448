package alert

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

const secret = "tr0ub4dor-and-3"

var sample = Message{
	ID: "0123456789abcdef", Episode: "e1", Key: Key{"unfit", "back-room", ""}, Cause: First, Channel: "phone",
	Severity: Critical, Title: "Near the dew point: Linen press, doors. Warm it.", Body: "No end in sight yet.", At: dusk,
}

func channelOf(t *testing.T, address string) Channel {
	t.Helper()
	c, err := ParseChannel(address)
	must(t, err)
	return c
}

// send tries sample with a deadline of its own.
func send(t *testing.T, c Channel, deadline time.Duration) error {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), deadline)
	defer cancel()
	return c.Send(ctx, sample)
}

func TestHTTPPostSendsOurFormat(t *testing.T) {
	s := newSink(t, nil)
	must(t, send(t, channelOf(t, s.URL+"/hook"), 30*time.Second))
	got := s.deliveries()
	if len(got) != 1 || got[0].path != "/hook" {
		t.Fatalf("%+v", got)
	}
	want := map[string]any{
		"id": "0123456789abcdef", "title": sample.Title, "body": sample.Body, "severity": "critical", "cause": "first",
		"room": "back-room", "event_time": "2031-03-04T21:40:00Z", "episode": "e1", "key": "unfit/back-room/",
	}
	if diff := cmp.Diff(want, got[0].body); diff != "" {
		t.Error(diff)
	}
	if k, c := got[0].header.Get("Idempotency-Key"), got[0].header.Get("Content-Type"); k != sample.ID || c != "application/json; charset=utf-8" {
		t.Errorf("headers: %q %q", k, c)
	}
}

// A sink that fails in every way: none of them is taken for a delivery, none
// hangs beyond the deadline, and none lets the address out.
func TestHTTPPostAgainstASinkThatFails(t *testing.T) {
	elsewhere := newSink(t, nil)
	hijack := func(w http.ResponseWriter, say string) {
		c, _, err := w.(http.Hijacker).Hijack()
		if err != nil {
			t.Error(err)
			return
		}
		_, _ = c.Write([]byte(say))
		_ = c.Close()
	}
	for name, c := range map[string]struct {
		answer http.HandlerFunc
		want   string // in the error; empty: sent
	}{
		"an error":  {func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(500) }, "answered 500"},
		"a refusal": {func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(403) }, "answered 403"},
		"too many":  {func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(429) }, "answered 429"},
		"a redirect": {func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, elsewhere.URL, http.StatusTemporaryRedirect)
		}, "answered 307, a redirect"},
		"a hang":      {func(_ http.ResponseWriter, r *http.Request) { <-r.Context().Done() }, "may have arrived"},
		"a close":     {func(w http.ResponseWriter, _ *http.Request) { hijack(w, "") }, "EOF"},
		"babble":      {func(w http.ResponseWriter, r *http.Request) { hijack(w, "no protocol "+r.URL.Path+"\r\n\r\n") }, "malformed"},
		"huge header": {func(w http.ResponseWriter, _ *http.Request) { w.Header().Set("X", strings.Repeat("x", 1<<20)) }, "header"},
		"huge body": {func(w http.ResponseWriter, r *http.Request) {
			for r.Context().Err() == nil {
				if _, err := w.Write(make([]byte, 1<<16)); err != nil {
					return
				}
			}
		}, ""},
		"accepted": {func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(202) }, ""},
	} {
		t.Run(name, func(t *testing.T) {
			s := newSink(t, c.answer)
			address := strings.Replace(s.URL, "http://", "http://ada:"+secret+"@", 1) + "/" + secret + "?token=" + secret
			begun := time.Now()
			deadline := 30 * time.Second
			if name == "a hang" {
				deadline = 200 * time.Millisecond
			}
			err := send(t, channelOf(t, address), deadline)
			if d := time.Since(begun); d >= 30*time.Second {
				t.Errorf("took %v", d)
			}
			if len(s.deliveries()) != 1 {
				t.Errorf("the sink saw %d posts", len(s.deliveries()))
			}
			switch {
			case c.want == "" && err != nil, c.want != "" && err == nil:
				t.Errorf("got %v", err)
			case err != nil && (!strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), secret)):
				t.Errorf("got %q, want %q in it and no secret", err, c.want)
			}
		})
	}
	if n := len(elsewhere.deliveries()); n != 0 {
		t.Errorf("%d redirects followed", n)
	}
}

func TestHTTPPostToNobody(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	must(t, err)
	address := "http://" + l.Addr().String() + "/" + secret
	must(t, l.Close())
	err = send(t, channelOf(t, address), 5*time.Second)
	if err == nil || !strings.Contains(err.Error(), "refused") || strings.Contains(err.Error(), secret) {
		t.Errorf("got %v", err)
	}
}

func TestHTTPPostDialsOnlyWhereAPhoneCanBe(t *testing.T) {
	// Ranges: IANA special-purpose address registries (RFC 6890); documentation
	// addresses from RFC 5737 and RFC 3849 stand for public ones.
	for _, c := range []struct {
		host, address string
		ok            bool
	}{
		{"push.example.net", "192.0.2.7:443", true},
		{"push.example.net", "[2001:db8::7]:443", true},
		{"phone.example.net", "192.168.1.9:80", true}, // a server in the shop
		{"push.example.net", "127.0.0.1:80", false},
		{"push.example.net", "[::1]:80", false},
		{"push.example.net", "[::ffff:127.0.0.1]:80", false},
		{"localhost", "127.0.0.1:80", true},
		{"127.0.0.1", "127.0.0.1:80", true},
		{"::1", "[::1]:80", true},
		{"push.example.net", "169.254.169.254:80", false},
		{"169.254.169.254", "169.254.169.254:80", false},
		{"push.example.net", "[fe80::1%eth0]:80", false},
		{"push.example.net", "224.0.0.1:80", false},
		{"push.example.net", "0.0.0.0:80", false},
		{"localhost", "0.0.0.0:80", false},
	} {
		if err := mayDial(c.host, c.address); (err == nil) != c.ok {
			t.Errorf("%s at %s: %v", c.host, c.address, err)
		}
	}
	err := send(t, channelOf(t, "http://169.254.169.254/"+secret), 30*time.Second)
	if err == nil || !strings.Contains(err.Error(), "never posted to") {
		t.Errorf("the rule is not applied when dialling: %v", err)
	}
}

func TestParseChannel(t *testing.T) {
	for _, c := range []struct{ address, name string }{
		{"https://push.example.net/" + secret, "push.example.net"},
		{" http://192.0.2.7:8080/hook ", "192.0.2.7:8080"},
		{"smtp://ada:" + secret + "@mail.example.net:587/?from=a@example.net&to=b@example.net", "smtp"},
		{"SMTP://mail.example.net/?from=a@example.net&to=b@example.net", "smtp"},
	} {
		got, err := ParseChannel(c.address)
		if err != nil || got.Name() != c.name {
			t.Errorf("%s: %v %v", c.address, got, err)
		}
	}
	for _, c := range []struct{ address, want string }{
		{"", "want a scheme first"},
		{secret, "want a scheme first"},
		{"://" + secret, "want a scheme first"},
		{"http://[" + secret, "want a scheme first"},
		{"https:///" + secret, "names no host"},
		{"carrier-pigeon://" + secret, "no channel is called"},
		{"smtp://" + secret + "@mail.example.net/", "smtp: "},
		{"smtp://mail.example.net/?from=a@example.net&to=b@example.net&skipTLSVerify=yes&x=" + secret, "install its certificate"},
		{"generic://push.example.net/" + secret, "https://"},
		{"logger://" + secret, "reaches nobody"},
	} {
		got, err := ParseChannel(c.address)
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), secret) {
			t.Errorf("%s: %v, %v; want %q in it and no secret", c.address, got, err, c.want)
		}
	}
}

func TestParseChannelsGivesNamesOfTheirOwn(t *testing.T) {
	got, err := ParseChannels([]string{"https://push.example.net/one", "https://push.example.net/two", "https://push.example.org/"})
	must(t, err)
	var names []string
	for _, c := range got {
		names = append(names, c.Name())
	}
	if diff := cmp.Diff([]string{"push.example.net", "push.example.net (2)", "push.example.org"}, names); diff != "" {
		t.Error(diff)
	}
	if _, err := ParseChannels([]string{"https://push.example.net/", "nonsense"}); err == nil || !strings.HasPrefix(err.Error(), "channel 2: ") {
		t.Errorf("got %v", err)
	}
}

func TestRedactorHidesEveryPart(t *testing.T) {
	u, err := url.Parse("smtp://ada:p%40ss%2Fword@" + secret + ":587/path-" + secret + "?to=b@example.net,c@example.net#frag-ment")
	must(t, err)
	r := newRedactor(u)
	got := r.text("550 p@ss/word p%40ss%2Fword <c@example.net>\r\n" + secret + ` frag-ment "https://relay.example.org/x?y=` + secret + `": refused`)
	for _, s := range []string{"p@ss", "%40ss", secret, "c@example", "frag", "relay", "\n"} {
		if strings.Contains(got, s) {
			t.Errorf("%q is left in %q", s, got)
		}
	}
	if !strings.Contains(got, "550") || !strings.Contains(got, "refused") {
		t.Errorf("nothing useful left: %q", got)
	}
	if long := r.text(strings.Repeat("é ", 10000)); len([]rune(long)) > maxErrorText {
		t.Errorf("%d characters", len([]rune(long)))
	}
}

func TestNoSecretReachesTheLogOrTheOutbox(t *testing.T) {
	var log bytes.Buffer
	s := newSink(t, func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(500) })
	host := strings.TrimPrefix(s.URL, "http://")
	library, err := url.Parse("generic://" + host + "/" + secret + "?disabletls=yes&@Authorization=" + secret)
	must(t, err)
	hung, err := newShoutrrr("library", library)
	must(t, err)
	dead, err := url.Parse("generic://127.0.0.1:1/" + secret + "?disabletls=yes")
	must(t, err)
	refused, err := newShoutrrr("refused", dead)
	must(t, err)
	channels := []Channel{channelOf(t, s.URL+"/"+secret), channelOf(t, "http://127.0.0.1:1/"+secret), hung, refused}
	channels[1].(*HTTPPost).name = "closed"
	o := newOutbox(t)
	c, err := NewCourier(CourierConfig{Outbox: o, Channels: channels, Log: slog.New(slog.NewTextHandler(&log, nil)),
		Now: time.Now, Jitter: func() float64 { return 0 }})
	must(t, err)
	var names []string
	for _, ch := range channels {
		names = append(names, ch.Name())
	}
	raise(t, o, "a", Info, names...)
	for _, m := range messages(t, o) {
		c.deliver(t.Context(), m)
	}
	for _, m := range messages(t, o) {
		if m.Status != Failed || m.Note == "" || strings.Contains(m.Note, secret) {
			t.Errorf("%s: %v %q", m.Channel, m.Status, m.Note)
		}
	}
	if n := strings.Count(log.String(), "message not sent"); n != len(channels) || strings.Contains(log.String(), secret) {
		t.Errorf("%d lines:\n%s", n, log.String())
	}
}

func TestShoutrrrDelivers(t *testing.T) {
	s := newSink(t, nil)
	u, err := url.Parse("generic://" + strings.TrimPrefix(s.URL, "http://") + "/hook?disabletls=yes&template=json")
	must(t, err)
	c, err := newShoutrrr("library", u)
	must(t, err)
	must(t, send(t, c, 30*time.Second))
	got := s.deliveries()
	if len(got) != 1 || got[0].body["message"] != sample.Title+"\n"+sample.Body || got[0].body["title"] != sample.Title {
		t.Errorf("%+v", got)
	}
}

func TestShoutrrrContainsSendsThatHang(t *testing.T) {
	let := make(chan struct{})
	s := newSink(t, func(http.ResponseWriter, *http.Request) { <-let })
	u, err := url.Parse("generic://" + strings.TrimPrefix(s.URL, "http://") + "/" + secret + "?disabletls=yes")
	must(t, err)
	c, err := newShoutrrr("library", u)
	must(t, err)
	for range mostOutstanding {
		if err := send(t, c, 20*time.Millisecond); !errors.Is(err, ErrOutcomeUnknown) {
			t.Errorf("a send that hangs: %v", err)
		}
	}
	for range 20 {
		if err := send(t, c, 20*time.Millisecond); err == nil || !strings.Contains(err.Error(), "not begun") {
			t.Errorf("one more than may hang: %v", err)
		}
	}
	close(let)
	for len(c.slots) > 0 { // every hung send returns; the test's own deadline ends this
		time.Sleep(time.Millisecond)
	}
	must(t, send(t, c, 30*time.Second))
	if n := len(s.deliveries()); n != mostOutstanding+1 {
		t.Errorf("the sink saw %d sends, want %d", n, mostOutstanding+1)
	}
}

func TestLogChannelSaysItAll(t *testing.T) {
	var log bytes.Buffer
	must(t, NewLogChannel(slog.New(slog.NewTextHandler(&log, nil))).Send(t.Context(), sample))
	for _, want := range []string{sample.Title, sample.Body, "severity=critical", "cause=first", "room=back-room"} {
		if !strings.Contains(log.String(), want) {
			t.Errorf("%q is not in %s", want, log.String())
		}
	}
}
