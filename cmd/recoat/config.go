package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"recoat/internal/alert"
	"recoat/internal/telemetry"
	"recoat/sensors/chip"
)

// config is the configuration file, whole: see deploy/recoat.toml for every key
// with its meaning. Fields left out keep their defaults.
type config struct {
	Room    roomConfig    `toml:"room"`
	Pages   pagesConfig   `toml:"pages"`
	Data    dataConfig    `toml:"data"`
	Sensors sensorsConfig `toml:"sensors"`
	Alerts  alertsConfig  `toml:"alerts"`
	Links   linksConfig   `toml:"links"`
	Broker  brokerConfig  `toml:"broker"`
	Hub     hubConfig     `toml:"hub"`
	Display displayConfig `toml:"display"`
	Store   storeConfig   `toml:"store"`
	Observe observeConfig `toml:"observe"`
	Log     logConfig     `toml:"log"`
}

type roomConfig struct {
	ID    string `toml:"id"`
	Title string `toml:"title"`
	Node  string `toml:"node"`
}

type pagesConfig struct {
	Listen      string   `toml:"listen"`
	Units       units    `toml:"units"`
	Login       bool     `toml:"login"`
	Hosts       []string `toml:"hosts"`
	Certificate string   `toml:"certificate"`
	Key         string   `toml:"key"`
	Clock       string   `toml:"clock"`
}

type dataConfig struct {
	Folder string `toml:"folder"`
}

type sensorsConfig struct {
	Every period `toml:"every"`
	I2C   string `toml:"i2c"`
	Root  string `toml:"root"`

	Mux         uint16             `toml:"mux"`
	Bridge      uint16             `toml:"bridge"`
	Emissivity  float64            `toml:"emissivity"`
	Thermistors []thermistorConfig `toml:"thermistors"`
	Warm        []warmConfig       `toml:"warm"`
}

// thermistorConfig is one thermistor on an ADS1115.
type thermistorConfig struct {
	ADC    uint16  `toml:"adc"`
	Input  int     `toml:"input"`
	Series float64 `toml:"series"`
	Supply float64 `toml:"supply"`
	R25    float64 `toml:"r25"`
	Beta   float64 `toml:"beta"`
	A      float64 `toml:"a"`
	B      float64 `toml:"b"`
	C      float64 `toml:"c"`
}

type alertsConfig struct {
	Channels     []string `toml:"channels"`
	ChannelFiles []string `toml:"channel_files"`
	Second       []string `toml:"second"`
	SecondFiles  []string `toml:"second_files"`
	After        period   `toml:"second_after"`
	Quiet        quiet    `toml:"quiet"`
	// Mail and MQTT are told everything too, where they are named.
	Mail mailConfig `toml:"mail"`
	MQTT mqttConfig `toml:"mqtt"`
	// Push and Buzzer too.
	Push   pushConfig   `toml:"push"`
	Buzzer buzzerConfig `toml:"buzzer"`

	SelfTest  weekly          `toml:"self_test"`
	AllWell   daily           `toml:"all_well"`
	Heartbeat heartbeatConfig `toml:"heartbeat"`
}

type mailConfig struct {
	Host         string   `toml:"host"`
	Port         uint16   `toml:"port"`
	User         string   `toml:"user"`
	PasswordFile string   `toml:"password_file"`
	From         string   `toml:"from"`
	To           []string `toml:"to"`
}

type mqttConfig struct {
	URL          string `toml:"url"`
	User         string `toml:"user"`
	PasswordFile string `toml:"password_file"`
	Topic        string `toml:"topic"`
}

type brokerConfig struct {
	URL          string `toml:"url"`
	User         string `toml:"user"`
	PasswordFile string `toml:"password_file"`
	CAFile       string `toml:"ca_file"`
	Listen       string `toml:"listen"`
}

// period is a time span written as "10s".
type period time.Duration

// UnmarshalText reads "10s", "1m".
func (p *period) UnmarshalText(text []byte) error {
	d, err := time.ParseDuration(string(text))
	if err != nil {
		return fmt.Errorf("%q is not a time span such as 10s or 1m", text)
	}
	*p = period(d)
	return nil
}

// quiet is a span of the night written as "22:00-06:30"; empty is none.
type quiet struct{ alert.QuietHours }

// UnmarshalText reads "22:00-06:30".
func (q *quiet) UnmarshalText(text []byte) error {
	if len(text) == 0 {
		*q = quiet{}
		return nil
	}
	from, to, found := strings.Cut(string(text), "-")
	start, err := time.Parse("15:04", strings.TrimSpace(from))
	end, err2 := time.Parse("15:04", strings.TrimSpace(to))
	if !found || err != nil || err2 != nil {
		return fmt.Errorf("%q is not a span of the night such as 22:00-06:30", text)
	}
	midnight := start.Truncate(24 * time.Hour)
	*q = quiet{alert.QuietHours{From: start.Sub(midnight), To: end.Sub(midnight)}}
	return nil
}

const (
	shortestPeriod = time.Second
	longestPeriod  = 10 * time.Minute
)

func defaults() config {
	return config{
		Room:    roomConfig{ID: "back-room", Title: "Back room", Node: "bench"},
		Store:   storeConfig{Kind: inFile, Readings: "recoat/readings", Rollups: "recoat/rollups"},
		Pages:   pagesConfig{Listen: "127.0.0.1:7423", Hosts: []string{}, Units: "C", Clock: "24h"},
		Data:    dataConfig{Folder: dataFolder()},
		Sensors: sensorsConfig{Every: period(10 * time.Second), Root: "/", Emissivity: chip.Emissivity},
		Alerts:  defaultAlerts(),
		Hub:     hubConfig{Name: telemetry.DefaultHub, Rooms: []string{}},
	}
}

// dataFolder follows the XDG base directory rules; empty if there is no home.
func dataFolder() string {
	if d := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(d) {
		return filepath.Join(d, "recoat")
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return ""
	}
	return filepath.Join(home, ".local", "share", "recoat")
}

// loadConfig reads the file at path over the defaults; an empty path is the
// defaults alone. A key it does not know is an error, never ignored.
func loadConfig(path string) (config, error) {
	c := defaults()
	if path == "" {
		return c, c.check()
	}
	f, err := os.Open(path)
	if err != nil {
		return c, fmt.Errorf("configuration: %w", err)
	}
	defer func() { _ = f.Close() }()
	if c, err = readConfig(f); err != nil {
		return c, fmt.Errorf("configuration %s: %w", path, err)
	}
	return c, nil
}

// configMax bounds a configuration, in bytes.
const configMax = 1 << 20

// readConfig reads a configuration over the defaults, strictly.
func readConfig(r io.Reader) (config, error) {
	c := defaults()
	if err := toml.NewDecoder(io.LimitReader(r, configMax)).DisallowUnknownFields().Decode(&c); err != nil {
		return c, explain(err)
	}
	return c, c.check()
}

// explain turns the decoder's error into one line with its place.
func explain(err error) error {
	var unknown *toml.StrictMissingError
	if errors.As(err, &unknown) && len(unknown.Errors) > 0 {
		e := unknown.Errors[0]
		line, _ := e.Position()
		return fmt.Errorf("line %d: no such key %q; deploy/recoat.toml lists them all", line, strings.Join(e.Key(), "."))
	}
	var bad *toml.DecodeError
	if errors.As(err, &bad) {
		line, column := bad.Position()
		return fmt.Errorf("line %d, column %d: %s", line, column, bad.Error())
	}
	return err
}

var nameForm = regexp.MustCompile(`^[a-z0-9-]{1,32}$`)

func (c config) check() error {
	every := time.Duration(c.Sensors.Every)
	switch {
	case !nameForm.MatchString(c.Room.ID):
		return fmt.Errorf("room.id %q: 1 to 32 small letters, digits or hyphens, such as \"back-room\"", c.Room.ID)
	case !nameForm.MatchString(c.Room.Node):
		return fmt.Errorf("room.node %q: 1 to 32 small letters, digits or hyphens, such as \"bench\"", c.Room.Node)
	case c.Data.Folder == "":
		return errors.New("data.folder: there is no home folder to default to: name one")
	case every < shortestPeriod || every > longestPeriod:
		return fmt.Errorf("sensors.every %s: from %s to %s", every, shortestPeriod, longestPeriod)
	case !filepath.IsAbs(c.Sensors.Root):
		return fmt.Errorf("sensors.root %q: an absolute path, \"/\" on a real machine", c.Sensors.Root)
	}
	if err := c.Hub.check(c.Room.ID); err != nil {
		return err
	}
	if err := c.Display.check(); err != nil {
		return err
	}
	for i, w := range c.Sensors.Warm {
		if err := w.warm().Check(); err != nil {
			return fmt.Errorf("sensors.warm, number %d: %w", i+1, err)
		}
	}
	if err := c.Sensors.real().Check(); err != nil {
		return fmt.Errorf("sensors.%w", err)
	}
	if err := c.Store.check(); err != nil {
		return err
	}
	if err := c.Observe.check(); err != nil {
		return err
	}
	if err := c.Links.check(); err != nil {
		return err
	}
	if err := c.Pages.Units.check(); err != nil {
		return err
	}
	if c.Broker.Listen != "" {
		if err := checkAddress("broker.listen", c.Broker.Listen); err != nil {
			return err
		}
	}
	return c.Pages.check()
}

// channels returns the addresses that alerts go to, those kept in files too.
func (a alertsConfig) channels() ([]string, error) {
	return addresses(a.Channels, "alerts.channel_files", a.ChannelFiles)
}

// seconds returns the addresses for what nobody acknowledges.
func (a alertsConfig) seconds() ([]string, error) {
	return addresses(a.Second, "alerts.second_files", a.SecondFiles)
}

func addresses(plain []string, key string, files []string) ([]string, error) {
	all := append([]string(nil), plain...)
	for _, name := range files {
		url, err := secret(key, name)
		if err != nil {
			return nil, err
		}
		all = append(all, url)
	}
	return all, nil
}

func (b brokerConfig) password() (string, error) {
	return password("broker.password_file", b.PasswordFile)
}

// password reads a secret that may be left out.
func password(key, path string) (string, error) {
	if path == "" {
		return "", nil
	}
	return secret(key, path)
}

// secret reads a file that only its owner may read.
func secret(key, path string) (string, error) {
	info, err := os.Stat(path)
	if err != nil {
		return "", fmt.Errorf("%s: %w", key, err)
	}
	if info.Mode().Perm()&0o077 != 0 {
		return "", fmt.Errorf("%s: %s can be read by others: chmod 600 it", key, path)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return "", fmt.Errorf("%s: %w", key, err)
	}
	return strings.TrimSpace(string(text)), nil
}
