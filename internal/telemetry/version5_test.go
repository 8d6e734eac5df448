package telemetry

import (
	"crypto/tls"
	"crypto/x509"
	"net"
	"os"
	"slices"
	"testing"
	"time"

	v5 "github.com/eclipse/paho.golang/paho"

	"recoat/internal/telemetry/mosquittotest"
	"recoat/sensors"
)

// version5 connects a client of MQTT 5, of a library that has no part in recoat.
func version5(t *testing.T, conn net.Conn, user, password string) *v5.Client {
	t.Helper()
	c := v5.NewClient(v5.ClientConfig{Conn: conn, OnClientError: func(error) {}, OnServerDisconnect: func(*v5.Disconnect) {}})
	_, err := c.Connect(t.Context(), &v5.Connect{
		ClientID: "five-" + user, CleanStart: true, KeepAlive: 30,
		Username: user, UsernameFlag: true, Password: []byte(password), PasswordFlag: true,
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Disconnect(&v5.Disconnect{}) })
	return c
}

// properties are those that a device of MQTT 5 may give with its SenML.
func properties(alias uint16) *v5.PublishProperties {
	text, expiry := byte(1), uint32(60)
	p := &v5.PublishProperties{ContentType: "application/senml+json", PayloadFormat: &text, MessageExpiry: &expiry}
	p.User.Add("firmware", "3.2")
	if alias > 0 {
		p.TopicAlias = &alias
	}
	return p
}

// speakVersion5 has a device say two things on its topic, the second by an alias,
// and something on a topic that it has no right to, by an alias too.
func speakVersion5(t *testing.T, c *v5.Client, hub *testHub) {
	t.Helper()
	const own, others = topicRoot + "back-room/mast/readings", topicRoot + "back-room/bench/readings"
	until(t, "the hub listens", func() bool {
		_, err := c.Publish(t.Context(), &v5.Publish{QoS: 1, Topic: own, Payload: []byte(`[{"bn":"mast/","n":"air-temperature","u":"Cel","v":0}]`)})
		time.Sleep(20 * time.Millisecond)
		return err == nil && hub.has(1)()
	})
	for _, m := range []struct {
		topic string
		alias uint16
		value string
	}{
		{own, 0, "17.25"}, {own, 1, "18.25"}, {others, 2, "99"}, {"", 2, "99"}, {"", 1, "19.25"},
	} {
		_, err := c.Publish(t.Context(), &v5.Publish{
			QoS: 1, Topic: m.topic, Properties: properties(m.alias), Payload: []byte(`[{"bn":"mast/","n":"air-temperature","u":"Cel","v":` + m.value + `}]`),
		})
		if err != nil && m.value != "99" {
			t.Errorf("%q, alias %d: %v", m.topic, m.alias, err)
		}
		time.Sleep(5 * time.Millisecond) // each is measured when it comes, to the millisecond
	}
}

func wantVersion5(t *testing.T, hub *testHub) {
	t.Helper()
	heard := func() (values []float64) {
		hub.mu.Lock()
		defer hub.mu.Unlock()
		for _, r := range hub.order {
			if value, _ := r.Value(sensors.Channel{Quantity: sensors.AirTemperature}); value != 0 || r.Node != "mast" {
				values = append(values, value)
			}
		}
		return values
	}
	until(t, "what the device said", func() bool { return len(heard()) >= 3 })
	if got := heard(); !slices.Equal(got, []float64{17.25, 18.25, 19.25}) {
		t.Errorf("the hub heard %v °C", got)
	}
}

func TestADeviceOfVersion5SpeaksThroughTheEmbeddedBroker(t *testing.T) {
	t.Parallel()
	at, _ := startBroker(t)
	hub := startHub(t, at, true)
	conn, err := (&net.Dialer{}).DialContext(t.Context(), "tcp", at)
	if err != nil {
		t.Fatal(err)
	}
	c := version5(t, conn, "mast", "hazel")
	speakVersion5(t, c, hub)
	wantVersion5(t, hub)
}

func TestADeviceOfVersion5SpeaksThroughAnotherBroker(t *testing.T) {
	t.Parallel()
	b := mosquittotest.Start(t, mosquittotest.Options{
		Users: map[string]string{"hub": "alder", "mast": "hazel"}, More: "user mast\ntopic write recoat/1/back-room/mast/readings\n",
	})
	pem, err := os.ReadFile(b.CA)
	if err != nil {
		t.Fatal(err)
	}
	trust := &tls.Config{MinVersion: tls.VersionTLS12, ServerName: "localhost", RootCAs: x509.NewCertPool()}
	if !trust.RootCAs.AppendCertsFromPEM(pem) {
		t.Fatal("no authority")
	}
	hub := startHubOn(t, Link{URL: b.URL, User: "hub", Password: "alder", TLS: trust, Retry: 50 * time.Millisecond}, true)
	conn, err := (&tls.Dialer{Config: trust}).DialContext(t.Context(), "tcp", b.Addr)
	if err != nil {
		t.Fatal(err)
	}
	c := version5(t, conn, "mast", "hazel")
	speakVersion5(t, c, hub)
	wantVersion5(t, hub)
}
