package kernel

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"recoat/sensors"
	"recoat/sensors/emulated"
)

var _, _ sensors.Source = W1{}, Air{}

// tree writes files below a new root.
func tree(t *testing.T, files map[string]string) string {
	t.Helper()
	root := t.TempDir()
	for name, text := range files {
		path := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return root
}

func link(t *testing.T, root, name, target string) {
	t.Helper()
	path := filepath.Join(root, name)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(filepath.Join(root, target), path); err != nil {
		t.Fatal(err)
	}
}

// all reads every source found below root.
func all(t *testing.T, root string) map[string]float64 {
	t.Helper()
	found, err := Discover(root)
	if err != nil {
		t.Fatal(err)
	}
	values := map[string]float64{}
	for _, s := range found {
		readings, err := s.Read(t.Context())
		if err != nil {
			t.Errorf("%s: %v", s.Name(), err)
		}
		for i, r := range readings {
			if r.Channel != s.Channels()[i] {
				t.Errorf("%s lists %v and reads %v", s.Name(), s.Channels()[i], r.Channel)
			}
			values[r.Channel.String()] = r.Value
		}
	}
	return values
}

func TestAMachineWithoutSensorsHasNone(t *testing.T) {
	found, err := Discover(t.TempDir())
	if err != nil || len(found) != 0 {
		t.Errorf("found %v, %v", found, err)
	}
}

// Units: Linux, Documentation/hwmon/sysfs-interface.rst (hwmon) and
// Documentation/ABI/testing/sysfs-bus-iio (IIO). The first hwmon value is the
// example of Documentation/hwmon/sht4x.rst: 31.5 °C is 31500.
func TestDiscoverReadsEachKindInItsUnits(t *testing.T) {
	table := []struct {
		name  string
		files map[string]string
		want  map[string]float64
	}{
		{"hwmon", map[string]string{
			"sys/class/hwmon/hwmon1/name":            "sht4x\n",
			"sys/class/hwmon/hwmon1/temp1_input":     "31500\n",
			"sys/class/hwmon/hwmon1/humidity1_input": "48250\n",
		}, map[string]float64{"air-temperature": 31.5, "relative-humidity": 48.25}},
		{"iio, ready", map[string]string{
			"sys/bus/iio/devices/iio:device0/name":                      "bme280\n",
			"sys/bus/iio/devices/iio:device0/in_temp_input":             "24260\n",
			"sys/bus/iio/devices/iio:device0/in_humidityrelative_input": "41074.000000000\n",
			"sys/bus/iio/devices/iio:device0/in_pressure_input":         "101.325000000\n",
		}, map[string]float64{"air-temperature": 24.26, "relative-humidity": 41.074, "pressure": 101325}},
		{"iio, raw", map[string]string{
			"sys/bus/iio/devices/iio:device0/name":                       "probe\n",
			"sys/bus/iio/devices/iio:device0/in_temp_raw":                "26000\n",
			"sys/bus/iio/devices/iio:device0/in_temp_offset":             "-16000\n",
			"sys/bus/iio/devices/iio:device0/in_temp_scale":              "2.5\n",
			"sys/bus/iio/devices/iio:device0/in_humidityrelative_raw":    "32768\n",
			"sys/bus/iio/devices/iio:device0/in_humidityrelative_scale":  "1.525878906\n",
			"sys/bus/iio/devices/iio:device0/in_humidityrelative_offset": "0\n",
		}, map[string]float64{"air-temperature": 25, "relative-humidity": 49.999999991808}},
		{"pressure alone", map[string]string{
			"sys/bus/iio/devices/iio:device0/name":              "bmp280\n",
			"sys/bus/iio/devices/iio:device0/in_temp_input":     "24260\n",
			"sys/bus/iio/devices/iio:device0/in_pressure_input": "100.5\n",
		}, map[string]float64{"pressure": 100500}},
		{"a processor", map[string]string{
			"sys/class/hwmon/hwmon0/name":        "cpu_thermal\n",
			"sys/class/hwmon/hwmon0/temp1_input": "48312\n",
		}, map[string]float64{}},
	}
	for _, c := range table {
		got := all(t, tree(t, c.files))
		if diff := cmp.Diff(c.want, got, cmpopts.EquateApprox(1e-12, 0)); diff != "" {
			t.Errorf("%s: want -, got +\n%s", c.name, diff)
		}
	}
}

func TestAProbeThatHwmonShowsTooIsFoundOnce(t *testing.T) {
	root := tree(t, map[string]string{
		"sys/class/hwmon/hwmon3/name":        "w1_slave_temp\n",
		"sys/class/hwmon/hwmon3/temp1_input": "18500\n",
	})
	wire := &emulated.OneWire{Root: root}
	for _, name := range []string{rom, "28-0416b3", "10-0008019e", "w1_bus_master1"} {
		if err := wire.Set(name, 18.5); err != nil {
			t.Fatal(err)
		}
	}
	want := map[string]float64{"surface-temperature:" + rom: 18.5, "surface-temperature:28-0416b3": 18.5}
	if diff := cmp.Diff(want, all(t, root)); diff != "" {
		t.Errorf("want -, got +\n%s", diff)
	}
}

// A chip keeps its name while the numbers of hwmon and IIO change from start to
// start, and a chip that both show is read once.
func TestAirSensorsAreNamedByTheirWiring(t *testing.T) {
	const at44, at45, at76 = "sys/devices/i2c-1/1-0044", "sys/devices/i2c-1/1-0045", "sys/devices/i2c-1/1-0076"
	for _, number := range []struct{ first, second string }{{"1", "2"}, {"2", "1"}} {
		first, second := "/hwmon/hwmon"+number.first, "/hwmon/hwmon"+number.second
		root := tree(t, map[string]string{
			at44 + first + "/name":                          "sht4x\n",
			at44 + first + "/temp1_input":                   "20000\n",
			at44 + first + "/humidity1_input":               "50000\n",
			at45 + second + "/name":                         "sht4x\n",
			at45 + second + "/temp1_input":                  "21000\n",
			at45 + second + "/humidity1_input":              "49000\n",
			at76 + "/iio:device0/name":                      "bme280\n",
			at76 + "/iio:device0/in_temp_input":             "22000\n",
			at76 + "/iio:device0/in_humidityrelative_input": "48000\n",
			at76 + "/hwmon/hwmon7/name":                     "bme280\n",
			at76 + "/hwmon/hwmon7/temp1_input":              "99000\n",
			at76 + "/hwmon/hwmon7/humidity1_input":          "48000\n",
		})
		for class, device := range map[string]string{first: at44, second: at45, "/hwmon/hwmon7": at76} {
			link(t, root, "sys/class"+class, device+class)
			link(t, root, device+class+"/device", device)
		}
		link(t, root, "sys/bus/iio/devices/iio:device0", at76+"/iio:device0")
		want := map[string]float64{
			"air-temperature": 20, "relative-humidity": 50,
			"air-temperature:1-0045": 21, "relative-humidity:1-0045": 49,
			"air-temperature:1-0076": 22, "relative-humidity:1-0076": 48,
		}
		if diff := cmp.Diff(want, all(t, root)); diff != "" {
			t.Errorf("want -, got +\n%s", diff)
		}
	}
}

func TestTwoDevicesAtOnePlaceAreToldApart(t *testing.T) {
	root := tree(t, map[string]string{})
	for _, n := range []string{"0", "1", "2"} {
		dir := "sys/devices/a-hub@4/iio:device" + n
		sub := tree(t, map[string]string{dir + "/in_humidityrelative_input": "4" + n + "000"})
		if err := os.CopyFS(root, os.DirFS(sub)); err != nil {
			t.Fatal(err)
		}
		link(t, root, "sys/bus/iio/devices/iio:device"+n, dir)
	}
	want := map[string]float64{"relative-humidity": 40, "relative-humidity:a-hub-4": 41, "relative-humidity:a-hub-4-2": 42}
	if diff := cmp.Diff(want, all(t, root)); diff != "" {
		t.Errorf("want -, got +\n%s", diff)
	}
}

// Linux's driver for the BME680 gives per cent, as that for the BME280 did before
// commit 13399ff25f17 ("iio: pressure: bmp280: fix relative humidity unit").
func TestAirSensorErrorsSayWhatIsWrong(t *testing.T) {
	const dir = "sys/bus/iio/devices/iio:device0/"
	table := []struct{ humidity, says string }{
		{"41.074000000\n", "in per cent instead of thousandths"},
		{"", "empty"},
		{"damp\n", "not a number"},
		{"NaN\n", "not a number"},
		{strings.Repeat("9", 2*maxFile), "not a number"},
	}
	for _, c := range table {
		root := tree(t, map[string]string{dir + "name": "bme680\n", dir + "in_temp_input": "24540\n", dir + "in_humidityrelative_input": c.humidity})
		found, err := DiscoverAir(root)
		if err != nil || len(found) != 1 {
			t.Fatalf("found %v, %v", found, err)
		}
		got, err := found[0].Read(t.Context())
		if err == nil || got != nil || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), "bme680 at iio-device0") {
			t.Errorf("%.20q: %v, %v; want an error on %q", c.humidity, got, err, c.says)
		}
	}
}
