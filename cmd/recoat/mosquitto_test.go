package main

import (
	"context"
	"crypto/tls"
	"fmt"
	"io"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"recoat/internal/telemetry/mosquittotest"
)

// shopBroker is a real mosquitto on the files shipped for it.
type shopBroker struct{ *mosquittotest.Broker }

// passwords of the broker's users: those of its shipped access lists, and the
// device of the page on other devices.
var passwords = map[string]string{
	"hub": "hub-secret", "bench": "bench-secret", "shelf": "shelf-secret", "north": "north-secret", "south": "south-secret",
}

func startShopBroker(t *testing.T) shopBroker {
	t.Helper()
	return shopBroker{mosquittotest.Start(t, mosquittotest.Options{
		Users: passwords, More: fenced(t, "../../firmware-config/OTHER-DEVICES.md", "user shelf"),
	})}
}

func shipped(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func place(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

var fence = regexp.MustCompile("(?s)```[a-z]*\n(.*?)```")

// fenced returns the block of a page that begins with start.
func fenced(t *testing.T, path, start string) string {
	t.Helper()
	for _, m := range fence.FindAllStringSubmatch(shipped(t, path), -1) {
		if strings.HasPrefix(m[1], start) {
			return m[1]
		}
	}
	t.Fatalf("%s has no block that begins with %q", path, start)
	return ""
}

// config is one half's configuration with the broker in it.
func (b shopBroker) config(t *testing.T, node string, name string) string {
	t.Helper()
	path := halfConfig(t, b.URL, name, passwords[name], kernelTree(t))
	text := strings.NewReplacer("\"loft\"", "\"back-room\"", "node = \"pi\"", "node = \""+node+"\"").Replace(shipped(t, path))
	place(t, path, text+fmt.Sprintf("ca_file = %q\n", b.CA))
	return path
}

// client connects to the broker as a device of somebody else's making.
func (b shopBroker) client(t *testing.T, name, password string) (mqtt.Client, error) {
	t.Helper()
	trust, err := brokerConfig{URL: b.URL, CAFile: b.CA}.trust()
	if err != nil {
		t.Fatal(err)
	}
	return b.clientTrusting(t, trust, name, password)
}

func (b shopBroker) clientTrusting(t *testing.T, trust *tls.Config, name, password string) (mqtt.Client, error) {
	t.Helper()
	c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(b.URL).SetTLSConfig(trust).SetClientID(t.Name() + name).
		SetUsername(name).SetPassword(password).SetConnectTimeout(10 * time.Second).SetAutoReconnect(false))
	token := c.Connect()
	if !token.WaitTimeout(20 * time.Second) {
		t.Fatal("the broker does not answer")
	}
	t.Cleanup(func() { c.Disconnect(0) })
	return c, token.Error()
}

func publish(t *testing.T, c mqtt.Client, topic, text string) {
	t.Helper()
	if token := c.Publish(topic, 1, false, text); !token.WaitTimeout(10 * time.Second) {
		t.Fatalf("no answer for %s", topic)
	}
}

// The page on other devices is true: its message, sent by its user on its topic
// through the shipped broker, shows in the room. The agent's readings come the
// same way, and nobody may speak for another.
func TestTheShippedBrokerCarriesAgentAndOtherDevices(t *testing.T) {
	b := startShopBroker(t)
	hub := startForAddress(t, "hub", "--config", b.config(t, "bench", "hub"))
	start(t, "agent", "--config", b.config(t, "bench", "bench"))
	eventually(t, "the agent's readings", func() bool {
		r := ask(t, hub)
		return len(r.Rooms) == 1 && r.Rooms[0].Air != nil && math.Abs(r.Rooms[0].Air.Humidity-61.5) < 0.01
	})

	device, err := b.client(t, "shelf", passwords["shelf"])
	if err != nil {
		t.Fatal(err)
	}
	message := fenced(t, "../../firmware-config/OTHER-DEVICES.md", "[{")
	const node = "<dt>shelf"
	if strings.Contains(page(t, hub, "room/back-room"), node) {
		t.Fatal("the device is there before it said anything")
	}
	// In the name of another node, and in a room it has no right to: dropped.
	publish(t, device, "recoat/1/back-room/bench/readings", strings.Replace(message, "door", "forged", 1))
	publish(t, device, "recoat/1/attic/shelf/readings", strings.Replace(message, "door", "astray", 1))
	publish(t, device, "recoat/1/back-room/shelf/readings", message)
	eventually(t, "the message of the page", func() bool { return strings.Contains(page(t, hub, "room/back-room"), node) })
	eventually(t, "its surface", func() bool { return strings.Contains(page(t, hub, "api/rooms"), "\"door\"") })
	shown := page(t, hub, "room/back-room") + page(t, hub, "api/rooms")
	for _, never := range []string{"forged", "astray"} {
		if strings.Contains(shown, never) {
			t.Errorf("%s is shown: the access list let it through", never)
		}
	}
}

func TestTheShippedBrokerTurnsStrangersAway(t *testing.T) {
	b := startShopBroker(t)
	for name, password := range map[string]string{"": "", "nobody": "x", "hub": "wrong", "bench": ""} {
		if _, err := b.client(t, name, password); err == nil {
			t.Errorf("%q gets in with password %q", name, password)
		}
	}
	if _, err := b.clientTrusting(t, &tls.Config{MinVersion: tls.VersionTLS12}, "hub", passwords["hub"]); err == nil {
		t.Error("a broker of an unknown authority is believed")
	}
	// Without encryption nobody gets an answer.
	plain := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(strings.Replace(b.URL, "ssl:", "tcp:", 1)).SetUsername("hub").SetPassword(passwords["hub"]).SetConnectTimeout(3 * time.Second))
	if token := plain.Connect(); token.WaitTimeout(10*time.Second) && token.Error() == nil {
		t.Error("the broker speaks without encryption")
	}
	plain.Disconnect(0)
	listener, err := b.client(t, "bench", passwords["bench"])
	if err != nil {
		t.Fatal(err)
	}
	heard := make(chan string, 8)
	token := listener.Subscribe("recoat/1/#", 1, func(_ mqtt.Client, m mqtt.Message) { heard <- m.Topic() })
	if !token.WaitTimeout(10 * time.Second) {
		t.Fatal("no answer to a subscription")
	}
	shelf, err := b.client(t, "shelf", passwords["shelf"])
	if err != nil {
		t.Fatal(err)
	}
	publish(t, shelf, "recoat/1/back-room/shelf/readings", "[]")
	ctx, stop := context.WithTimeout(t.Context(), 500*time.Millisecond)
	defer stop()
	select {
	case topic := <-heard:
		t.Errorf("a node hears another's %s", topic)
	case <-ctx.Done():
	}
}

func TestAnAuthorityIsReadOrRefused(t *testing.T) {
	for name, c := range map[string]struct {
		broker brokerConfig
		want   string
	}{
		"absent":      {brokerConfig{URL: "ssl://shop.example:8883", CAFile: filepath.Join(t.TempDir(), "none.pem")}, "none.pem"},
		"not PEM":     {brokerConfig{URL: "ssl://shop.example:8883", CAFile: write(t, "ca.pem", "no certificate")}, "holds no certificate"},
		"unencrypted": {brokerConfig{URL: "tcp://shop.example:1883", CAFile: write(t, "ca.pem", "")}, "not encrypted"},
	} {
		if _, err := c.broker.trust(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if trust, err := (brokerConfig{URL: "ssl://shop.example:8883"}).trust(); trust != nil || err != nil {
		t.Errorf("none named: %v, %v", trust, err)
	}
}

func eventually(t *testing.T, what string, so func() bool) {
	t.Helper()
	for end := time.Now().Add(time.Minute); !so(); time.Sleep(200 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("not within a minute: %s", what)
		}
	}
}

// page reads one of the hub's pages.
func page(t *testing.T, url, path string) string {
	t.Helper()
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	if err != nil || response.StatusCode != http.StatusOK {
		t.Fatalf("%s: %s, %v", path, response.Status, err)
	}
	return string(text)
}
