package main

import (
	"fmt"

	"recoat/internal/alert"
	"recoat/internal/alert/mail"
	"recoat/internal/alert/mqtt"
)

// open opens the ways to a person: those that are told everything, and those
// that are told what nobody acknowledges.
func (a alertsConfig) open() (first, second []alert.Channel, err error) {
	all, err := a.channels()
	if err != nil {
		return nil, nil, err
	}
	seconds, err := a.seconds()
	if err != nil {
		return nil, nil, err
	}
	// Parsed together, so that no two share a name.
	parsed, err := alert.ParseChannels(append(all, seconds...))
	if err != nil {
		return nil, nil, fmt.Errorf("alerts: %w", err)
	}
	first, second = parsed[:len(all):len(all)], parsed[len(all):]
	if a.Mail.Host != "" {
		c, err := a.Mail.open()
		if err != nil {
			return nil, nil, fmt.Errorf("alerts.mail: %w", err)
		}
		first = append(first, c)
	}
	if a.MQTT.URL != "" {
		c, err := a.MQTT.open()
		if err != nil {
			return nil, nil, fmt.Errorf("alerts.mqtt: %w", err)
		}
		first = append(first, c)
	}
	return first, second, nil
}

func (m mailConfig) open() (*mail.Channel, error) {
	secret, err := password("alerts.mail.password_file", m.PasswordFile)
	if err != nil {
		return nil, err
	}
	return mail.New(mail.Config{Host: m.Host, Port: m.Port, User: m.User, Password: secret, From: m.From, To: m.To})
}

func (m mqttConfig) open() (*mqtt.Channel, error) {
	secret, err := password("alerts.mqtt.password_file", m.PasswordFile)
	if err != nil {
		return nil, err
	}
	return mqtt.New(mqtt.Config{Broker: m.URL, User: m.User, Password: secret, Topic: m.Topic})
}
