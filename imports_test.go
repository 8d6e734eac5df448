// Package recoat_test holds the rules that span the whole tree.
package recoat_test

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// layers says, for each folder, which packages its code may import beside the
// standard library. The longest matching folder counts; a name ending in "/"
// admits everything below it. Tests may import more, and are not looked at.
var layers = map[string][]string{
	"sensors":             {},
	"sensors/poll":        {"recoat/sensors", "golang.org/x/sys/"},
	"sensors/chip":        {"recoat/sensors", "periph.io/"},
	"sensors/calibration": {"recoat/sensors"},
	"sensors/kernel":      {"recoat/sensors"},
	"sensors/emulated":    {"recoat/sensors", "periph.io/"},
	"sensors/plausible":   {"recoat/sensors", "recoat/drying/air"},
	"sensors/simroom":     {"recoat/sensors", "recoat/drying/"},
	"sensors/wiring":      {"recoat/sensors", "recoat/sensors/", "recoat/drying/wood", "periph.io/"},

	"drying": {"recoat/sensors", "recoat/drying", "recoat/drying/", "gonum.org/"},

	"internal/sqldb":     {"modernc.org/sqlite", "modernc.org/sqlite/lib"},
	"internal/upkeep":    {"recoat/internal/sqldb"},
	"internal/upgrade":   {"recoat/internal/sqldb"},
	"internal/access":    {"recoat/internal/sqldb", "golang.org/x/crypto/argon2"},
	"internal/authority": {},
	"internal/faults":    {},
	"internal/footprint": {"golang.org/x/sys/unix"},
	"internal/observe":   {"recoat/sensors", "recoat/internal/telemetry"},
	"internal/peers":     {},
	"internal/powercut":  {},
	"internal/quantity":  {"recoat/sensors", "recoat/drying"},
	"internal/recording": {"recoat/sensors", "recoat/drying", "recoat/internal/quantity"},
	"internal/telemetry": {
		"recoat/sensors", "recoat/internal/sqldb",
		"github.com/eclipse/paho.mqtt.golang", "github.com/eclipse/paho.mqtt.golang/packets", "github.com/mochi-mqtt/server/v2", "github.com/mochi-mqtt/server/v2/", "github.com/mainflux/senml",
	},
	"internal/telemetry/mosquittotest": {},
	"internal/store":                   {"recoat/sensors", "recoat/internal/store", "recoat/internal/sqldb"},
	"internal/store/sqlite":            {"recoat/sensors", "recoat/internal/store", "recoat/internal/sqldb", "modernc.org/sqlite", "modernc.org/sqlite/lib"},
	"internal/store/influx": {
		"recoat/sensors", "recoat/internal/store", "recoat/internal/sqldb",
		"github.com/influxdata/influxdb-client-go/v2", "github.com/influxdata/influxdb-client-go/v2/",
	},
	"internal/store/calibrated": {"recoat/sensors", "recoat/sensors/calibration", "recoat/internal/store"},
	"internal/store/storetest":  {"recoat/sensors", "recoat/internal/store", "github.com/google/go-cmp/"},
	"internal/shop": {
		"recoat/sensors", "recoat/drying", "recoat/drying/", "recoat/internal/quantity", "recoat/internal/sqldb", "recoat/sensors/calibration",
		"recoat/internal/shop/compat", "recoat/internal/shop/film", "recoat/internal/shop/mix", "recoat/internal/shop/photo", "recoat/internal/shop/schedule",
		"github.com/pelletier/go-toml/v2", "github.com/pelletier/go-toml/v2/",
	},
	"internal/shop/compat":     {"recoat/drying", "recoat/internal/quantity", "github.com/pelletier/go-toml/v2"},
	"internal/shop/film":       {"recoat/drying", "recoat/internal/quantity"},
	"internal/shop/mix":        {"recoat/internal/quantity"},
	"internal/shop/care":       {"recoat/drying", "recoat/internal/shop", "recoat/internal/shop/mix", "recoat/internal/shop/schedule"},
	"internal/shop/photo":      {},
	"internal/shop/schedule":   {"recoat/drying"},
	"internal/partplan":        {"recoat/drying", "recoat/drying/plan", "recoat/internal/shop/schedule"},
	"internal/seal":            {"recoat/sensors", "recoat/internal/store", "recoat/internal/shop", "recoat/internal/sqldb"},
	"internal/audit":           {"recoat/sensors", "recoat/sensors/calibration", "recoat/drying", "recoat/drying/wood", "recoat/internal/seal", "recoat/internal/shop"},
	"internal/audit/audittest": {"recoat/sensors", "recoat/sensors/calibration", "recoat/drying", "recoat/drying/air", "recoat/internal/audit", "recoat/internal/shop"},
	"internal/audit/document": {
		"recoat/drying", "recoat/drying/air", "recoat/sensors", "recoat/internal/audit",
		"codeberg.org/go-pdf/fpdf", "github.com/go-fonts/dejavu/",
	},
	"internal/audit/gather": {
		"recoat/sensors", "recoat/sensors/calibration", "recoat/drying", "recoat/internal/alert", "recoat/internal/audit", "recoat/internal/seal",
		"recoat/internal/shop", "recoat/internal/shop/schedule", "recoat/internal/store",
	},
	"internal/alert": {
		"recoat/sensors", "recoat/drying", "recoat/internal/alert", "recoat/internal/shop", "recoat/internal/sqldb",
		"github.com/nicholas-fedor/shoutrrr", "github.com/nicholas-fedor/shoutrrr/",
	},
	"internal/alert/buzzer":  {"recoat/internal/alert", "periph.io/"},
	"internal/alert/links":   {"recoat/internal/alert"},
	"internal/alert/mail":    {"recoat/internal/alert", "github.com/wneessen/go-mail"},
	"internal/alert/mqtt":    {"recoat/internal/alert", "github.com/eclipse/paho.mqtt.golang"},
	"internal/alert/webpush": {"recoat/internal/alert"},
	"internal/agent":         {"recoat/sensors", "recoat/sensors/poll", "recoat/internal/telemetry"},
	"internal/display": {
		"recoat/drying", "recoat/internal/alert", "recoat/internal/room", "recoat/internal/telemetry",
		"periph.io/x/conn/v3/i2c", "periph.io/x/devices/v3/ssd1306", "golang.org/x/image/", "golang.org/x/text/unicode/norm",
	},
	"internal/doctor":  {"recoat/sensors", "recoat/sensors/kernel", "golang.org/x/sys/unix"},
	"internal/systemd": {"github.com/coreos/go-systemd/v22/daemon"},
	"internal/demo": {
		"recoat/drying", "recoat/sensors/poll", "recoat/sensors/wiring", "recoat/internal/agent", "recoat/internal/shop", "recoat/internal/shop/schedule",
	},
	"internal/room": {"recoat/sensors", "recoat/sensors/calibration", "recoat/drying", "recoat/drying/", "recoat/internal/alert", "recoat/internal/shop"},
	"internal/follow": {
		"recoat/sensors", "recoat/drying", "recoat/internal/room", "recoat/internal/shop", "recoat/internal/shop/care", "recoat/internal/shop/schedule", "recoat/internal/store",
	},
	"internal/hub": {
		"recoat/sensors", "recoat/sensors/calibration", "recoat/drying", "recoat/drying/", "recoat/internal/alert", "recoat/internal/shop", "recoat/internal/shop/schedule",
		"recoat/internal/room", "recoat/internal/store", "recoat/internal/telemetry", "recoat/internal/follow",
	},
	"dashboards":          {"recoat/sensors", "recoat/sensors/calibration", "recoat/drying", "recoat/drying/", "recoat/internal/", "recoat/dashboards/carecard"},
	"dashboards/carecard": {"recoat/internal/shop/care", "github.com/boombuler/barcode/qr"},
	"dashboards/backend": {
		"recoat/internal/alert", "recoat/internal/alert/webpush", "recoat/sensors", "recoat/drying", "recoat/drying/air", "recoat/dashboards", "recoat/internal/follow", "recoat/internal/shop", "recoat/internal/shop/care",
		"recoat/internal/store", "recoat/internal/audit", "recoat/internal/audit/", "recoat/internal/shop/photo", "recoat/sensors/calibration",
	},
	"deploy":               {},
	"firmware-config/draw": {},
	"cmd": {
		"github.com/schollz/progressbar/v3",
		"golang.org/x/term",
		"recoat/", "github.com/alecthomas/kong", "github.com/pelletier/go-toml/v2", "github.com/google/uuid",
	},
}

func TestArrowsRunOneWay(t *testing.T) {
	files := 0
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && (d.Name() == "node_modules" || d.Name() == "bin" || strings.HasPrefix(d.Name(), ".") && path != "."):
			return fs.SkipDir
		case !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go"):
			return nil
		}
		files++
		checkImports(t, path)
		return nil
	})
	if err != nil || files == 0 {
		t.Fatalf("looked at %d files: %v", files, err)
	}
}

func checkImports(t *testing.T, path string) {
	t.Helper()
	folder := filepath.ToSlash(filepath.Dir(path))
	allowed, ok := allowedIn(folder)
	if !ok {
		t.Errorf("%s: the folder has no row in the import table: add one, and say in DEVELOPERS.md why it exists", folder)
		return
	}
	file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
	if err != nil {
		t.Error(err)
		return
	}
	for _, spec := range file.Imports {
		name, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			t.Error(err)
			continue
		}
		if !permitted(name, allowed) {
			t.Errorf("%s imports %s: the import table does not allow it", path, name)
		}
	}
}

func allowedIn(folder string) ([]string, bool) {
	for f := folder; f != "."; f = filepath.ToSlash(filepath.Dir(f)) {
		if allowed, ok := layers[f]; ok {
			return allowed, true
		}
	}
	return nil, false
}

func permitted(name string, allowed []string) bool {
	first, _, _ := strings.Cut(name, "/")
	if first != "recoat" && !strings.Contains(first, ".") {
		return true // the standard library
	}
	for _, a := range allowed {
		if name == a || strings.HasSuffix(a, "/") && strings.HasPrefix(name, a) {
			return true
		}
	}
	return false
}

func TestTheImportTableBites(t *testing.T) {
	for _, c := range []struct {
		folder, name string
		want         bool
	}{
		{"sensors", "recoat/drying", false},
		{"sensors", "fmt", true},
		{"sensors/simroom", "recoat/drying/air", true},
		{"drying/air", "recoat/internal/store", false},
		{"internal/store/sqlite", "recoat/drying", false},
		{"internal/alert", "recoat/internal/room", false},
		{"dashboards", "recoat/cmd/recoat", false},
	} {
		allowed, _ := allowedIn(c.folder)
		if got := permitted(c.name, allowed); got != c.want {
			t.Errorf("%s importing %s: permitted %v", c.folder, c.name, got)
		}
	}
}
