package main

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"

	"recoat/internal/alert"
	"recoat/internal/alert/buzzer"
	"recoat/internal/alert/mail"
	"recoat/internal/alert/mqtt"
	"recoat/internal/alert/webpush"
)

// ways are what reaches a person: those that are told everything, and those
// that are told what nobody acknowledges.
type ways struct {
	first, second []alert.Channel
	push          *webpush.Identity // nil: there is no Web Push
}

// all is every channel.
func (w ways) all() []alert.Channel { return append(w.first[:len(w.first):len(w.first)], w.second...) }

// open opens the configured ways. The key of Web Push is kept in the folder and
// its subscriptions in the outbox; without an outbox it is left out.
func (a alertsConfig) open(f folder, outbox *alert.Outbox) (w ways, err error) {
	all, err := a.channels()
	if err != nil {
		return w, err
	}
	seconds, err := a.seconds()
	if err != nil {
		return w, err
	}
	// Parsed together, so that no two share a name.
	parsed, err := alert.ParseChannels(append(all, seconds...))
	if err != nil {
		return w, fmt.Errorf("alerts: %w", err)
	}
	w.first, w.second = parsed[:len(all):len(all)], parsed[len(all):]
	for _, way := range []struct {
		key  string
		on   bool
		open func() (alert.Channel, error)
	}{
		{"alerts.mail", a.Mail.Host != "", a.Mail.open},
		{"alerts.mqtt", a.MQTT.URL != "", a.MQTT.open},
		{"alerts.push", a.Push.Contact != "" && outbox != nil, func() (alert.Channel, error) { return a.Push.open(f, outbox, &w) }},
		{"alerts.buzzer", a.Buzzer.Pin != "", a.Buzzer.open},
	} {
		if !way.on {
			continue
		}
		c, err := way.open()
		if err != nil {
			return w, fmt.Errorf("%s: %w", way.key, err)
		}
		w.first = append(w.first, c)
	}
	return w, nil
}

func (m mailConfig) open() (alert.Channel, error) {
	secret, err := password("alerts.mail.password_file", m.PasswordFile)
	if err != nil {
		return nil, err
	}
	return mail.New(mail.Config{Host: m.Host, Port: m.Port, User: m.User, Password: secret, From: m.From, To: m.To})
}

func (m mqttConfig) open() (alert.Channel, error) {
	secret, err := password("alerts.mqtt.password_file", m.PasswordFile)
	if err != nil {
		return nil, err
	}
	return mqtt.New(mqtt.Config{Broker: m.URL, User: m.User, Password: secret, Topic: m.Topic})
}

func (p pushConfig) open(f folder, outbox *alert.Outbox, w *ways) (alert.Channel, error) {
	key, err := ownKey(f.pushKey(), webpush.GenerateKey)
	if err != nil {
		return nil, err
	}
	if w.push, err = webpush.NewIdentity(key, p.Contact); err != nil {
		return nil, err
	}
	return webpush.New(webpush.Config{Book: outbox, Identity: w.push, Now: time.Now}), nil
}

func (b buzzerConfig) open() (alert.Channel, error) { return buzzer.Open(b.Pin, b.ActiveLow) }

// ownKey reads a key of ours from its file, made at first and readable by its
// owner alone.
func ownKey(path string, make func() ([]byte, error)) ([]byte, error) {
	key, err := os.ReadFile(path)
	if err == nil || !errors.Is(err, fs.ErrNotExist) {
		return key, err
	}
	if key, err = make(); err != nil {
		return nil, err
	}
	return key, keep(path, key)
}

// keep writes a file that is whole or not there: to another name first, synced,
// then renamed.
func keep(path string, content []byte) error {
	partial := path + ".part"
	f, err := os.OpenFile(partial, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(content)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(partial, path)
}

// linkKey makes the key that signs links.
func linkKey() ([]byte, error) {
	key := make([]byte, alert.LinkKeySize)
	if _, err := rand.Read(key); err != nil {
		return nil, fmt.Errorf("make a key for links: %w", err)
	}
	return key, nil
}
