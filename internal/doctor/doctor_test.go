package doctor

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// root is a folder with files, links where the text begins with "->", and
// folders where the name ends in a slash.
func root(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		path := filepath.Join(dir, name)
		var err error
		if strings.HasSuffix(name, "/") {
			err = os.MkdirAll(path, 0o755)
		} else if err = os.MkdirAll(filepath.Dir(path), 0o755); err == nil {
			if to, link := strings.CutPrefix(text, "->"); link {
				err = os.Symlink(to, path)
			} else {
				err = os.WriteFile(path, []byte(text), 0o600)
			}
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func allowed(string) error { return nil }
func barred(path string) error {
	return fmt.Errorf("%s: %w", path, fs.ErrPermission)
}
func broken(string) error { return errors.New("no such device") }

// says looks for a finding of a subject in a state whose words hold all of some.
func says(t *testing.T, all []Finding, subject, state string, words ...string) {
	t.Helper()
	for _, f := range all {
		if f.Subject != subject || f.State != state {
			continue
		}
		missing := false
		for _, w := range words {
			missing = missing || !strings.Contains(f.Detail+" → "+f.Do, w)
		}
		if !missing {
			return
		}
	}
	t.Errorf("no %s is %s with %q in\n%+v", subject, state, words, all)
}

func TestBuses(t *testing.T) {
	group := fmt.Sprintf("i2c:x:%d:\n", os.Getgid())
	for name, c := range map[string]struct {
		files   map[string]string
		mayUse  func(string) error
		subject string
		state   string
		words   []string
	}{
		"no bus":             {nil, allowed, "bus", NotThere, []string{"dtparam=i2c_arm=on"}},
		"a bus":              {map[string]string{"dev/i2c-1": ""}, allowed, "bus", OK, []string{"/dev/i2c-1"}},
		"another's bus":      {map[string]string{"dev/i2c-1": "", "etc/group": group}, barred, "bus", NotOK, []string{"group i2c", "usermod -aG i2c ash"}},
		"a nameless group":   {map[string]string{"dev/i2c-1": ""}, barred, "bus", NotOK, []string{fmt.Sprintf("number %d", os.Getgid())}},
		"a bus that is odd":  {map[string]string{"dev/i2c-1": ""}, broken, "bus", NotOK, []string{"no such device"}},
		"a missing module":   {map[string]string{"sys/class/i2c-adapter/i2c-1/": ""}, allowed, "bus", NotOK, []string{"modprobe i2c-dev"}},
		"no 1-wire":          {nil, allowed, "1-wire", NotThere, []string{"dtoverlay=w1-gpio"}},
		"1-wire and a probe": {map[string]string{"sys/bus/w1/devices/w1_bus_master1/": "", "sys/bus/w1/devices/28-0316a2791b5f/": ""}, allowed, "1-wire", OK, []string{"28-0316a2791b5f"}},
		"1-wire and none":    {map[string]string{"sys/bus/w1/devices/w1_bus_master1/": ""}, allowed, "1-wire", NotOK, []string{"4.7 kΩ"}},
		"a floating wire":    {map[string]string{"sys/bus/w1/devices/w1_bus_master1/": "", "sys/bus/w1/devices/00-400000000000/": ""}, allowed, "1-wire", NotOK, []string{"floats"}},
		"a driver": {map[string]string{"sys/bus/i2c/devices/1-0076/name": "bme280\n", "sys/bus/i2c/devices/1-0076/driver": "->../drivers/bmp280"},
			allowed, "driver", OK, []string{"bmp280 has bme280 at 1-0076"}},
	} {
		t.Run(name, func(t *testing.T) {
			says(t, Buses(root(t, c.files), User{Name: "ash", mayUse: c.mayUse}), c.subject, c.state, c.words...)
		})
	}
}

func TestMachine(t *testing.T) {
	const (
		throttled = "sys/devices/platform/soc/soc:firmware/get_throttled"
		zone      = "sys/class/thermal/thermal_zone0/"
		clock     = "sys/class/rtc/rtc0/"
		chip      = "sys/block/mmcblk0/device/"
		ext4      = "sys/fs/ext4/mmcblk0p2/"
	)
	for name, c := range map[string]struct {
		files          map[string]string
		subject, state string
		words          []string
	}{
		"a model":            {map[string]string{"proc/device-tree/model": "Board of a test\x00"}, "machine", OK, []string{"Board of a test"}},
		"no model":           {nil, "machine", OK, []string{"device tree"}},
		"no battery clock":   {nil, "battery clock", NotThere, []string{"i2c-rtc"}},
		"a battery clock":    {map[string]string{clock + "name": "rtc-ds1307 1-0068", clock + "hctosys": "1"}, "battery clock", OK, []string{"rtc-ds1307"}},
		"an empty cell":      {map[string]string{clock + "name": "rtc-ds1307 1-0068", clock + "hctosys": "0"}, "battery clock", NotOK, []string{"hwclock"}},
		"no word of supply":  {nil, "supply", NotThere, nil},
		"a good supply":      {map[string]string{throttled: "0\n"}, "supply", OK, nil},
		"too few volts":      {map[string]string{throttled: "50005\n"}, "supply", NotOK, []string{"now: too few volts, slowed down", "5.1 V"}},
		"a dip":              {map[string]string{throttled: "10000\n"}, "supply", NotOK, []string{"since the start: too few volts"}},
		"an odd word":        {map[string]string{throttled: "well\n"}, "supply", NotOK, []string{"hexadecimal"}},
		"an alarm":           {map[string]string{"sys/class/hwmon/hwmon0/name": "rpi_volt", "sys/class/hwmon/hwmon0/in0_lcrit_alarm": "1"}, "supply", NotOK, []string{"too few volts"}},
		"cool":               {map[string]string{zone + "type": "cpu-thermal", zone + "temp": "48000"}, "heat", OK, []string{"48 °C"}},
		"hot":                {map[string]string{zone + "type": "cpu-thermal", zone + "temp": "81500"}, "heat", NotOK, []string{"82 °C", "heater"}},
		"no word of heat":    {nil, "heat", NotThere, nil},
		"no card":            {nil, "card", NotThere, nil},
		"an SD card":         {map[string]string{chip + "name": "CARD1", "sys/block/mmcblk0boot0/device/life_time": "0x0b 0x0b"}, "card", NotThere, []string{"mmcblk0 CARD1", "spare"}},
		"a young chip":       {map[string]string{chip + "life_time": "0x01 0x02", chip + "pre_eol_info": "0x01"}, "card", OK, []string{"20 %"}},
		"an old chip":        {map[string]string{chip + "life_time": "0x09 0x03"}, "card", NotOK, []string{"90 %", "backup"}},
		"an ending chip":     {map[string]string{chip + "life_time": "0x01 0x01", chip + "pre_eol_info": "0x02"}, "card", NotOK, nil},
		"a chip that is odd": {map[string]string{chip + "life_time": "long"}, "card", NotOK, []string{"long"}},
		"a file system":      {map[string]string{ext4 + "lifetime_write_kbytes": "12000000\n", ext4 + "errors_count": "0\n"}, "card", OK, []string{"12.3 GB"}},
		"one with errors":    {map[string]string{ext4 + "lifetime_write_kbytes": "1", ext4 + "errors_count": "3\n"}, "card", NotOK, []string{"3 errors", "e2fsck"}},
	} {
		t.Run(name, func(t *testing.T) { says(t, Machine(root(t, c.files)), c.subject, c.state, c.words...) })
	}
}

// Whoever runs the tests may or may not use a file, and the answer is the
// kernel's.
func TestMyselfAsksTheKernel(t *testing.T) {
	me := Myself()
	if me.Name == "" {
		t.Error("nobody")
	}
	if err := me.mayUse(filepath.Join(t.TempDir(), "none")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("%v", err)
	}
	if err := me.mayUse(t.TempDir()); err != nil {
		t.Error(err)
	}
}
