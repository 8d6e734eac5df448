package telemetry

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/sensors"
)

var received = time.Date(2026, 3, 1, 22, 0, 0, 0, time.UTC)

func foreign(at time.Time, readings ...sensors.Reading) sensors.Round {
	return sensors.Round{Node: "mast", Seq: uint64(at.UnixMilli()), Time: at, ClockSet: true, Readings: readings}
}

func TestAForeignPackGivesARoundPerInstant(t *testing.T) {
	rfcStart := time.Unix(1320067464, 0).UTC()
	read := func(c sensors.Channel, v float64) sensors.Reading { return sensors.Reading{Channel: c, Value: v} }
	for pack, want := range map[string][]sensors.Round{
		// RFC 8428, section 5.1.3: humidity is known by its unit, the position
		// and the battery are passed over.
		rfcMultiple: {
			foreign(rfcStart, read(rh, 20)), foreign(rfcStart.Add(time.Minute), read(rh, 20.3)),
			foreign(rfcStart.Add(2*time.Minute), read(rh, 20.7)), foreign(rfcStart.Add(3*time.Minute), read(rh, 21.2)),
		},
		// Section 5.1.5: a time of zero is roughly now.
		rfcTypes: {foreign(received, read(air, 23.1))},
		`[{"n":"air-temperature","u":"Cel","v":14.5},{"n":"relative-humidity","u":"%RH","v":70},{"n":"x/surface-temperature:left","v":12}]`: {
			foreign(received, read(air, 14.5), read(rh, 70), read(sensors.Channel{Quantity: sensors.SurfaceTemperature, Probe: "left"}, 12)),
		},
		`[{"bn":"urn:dev:mac:0024befffe804ff1:","n":"pressure","u":"Pa","v":101300,"t":-60.0004},{"n":"wood-surface","u":"Cel","v":11},{"n":"out","u":"hPa","v":1013}]`: {
			foreign(received.Add(-time.Minute), read(sensors.Channel{Quantity: sensors.AirPressure}, 101300)),
			foreign(received, read(sensors.Channel{Quantity: sensors.SurfaceTemperature}, 11), read(sensors.Channel{Quantity: sensors.AirPressure}, 101300)),
		},
	} {
		got, err := DecodePack("back-room", "mast", []byte(pack), received)
		if err != nil {
			t.Errorf("%.80s: %v", pack, err)
		} else if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%.80s: %s", pack, diff)
		}
	}
}

func TestForeignPacksThatAreRefused(t *testing.T) {
	for pack, reason := range map[string]string{
		`[]`: "no value",
		// RFC 8428, section 5.1.1: a temperature of nobody knows what.
		rfcSingle: "known quantity",
		// Section 5.1.6: two devices in one pack, where the topic is for one.
		rfcTwo: "twice",
		`[{"n":"air-temperature","u":"K","v":290}]`:                          `want "Cel"`,
		`[{"n":"air-temperature","u":"Cel","v":2000}]`:                       "cannot be meant",
		`[{"n":"relative-humidity","u":"%RH","v":50,"t":1e300}]`:             "no date",
		`[{"n":"relative-humidity","u":"%RH","v":50,"bt":-268435456000000}]`: "no date",
	} {
		if got, err := DecodePack("back-room", "mast", []byte(pack), received); err == nil || !strings.Contains(err.Error(), reason) {
			t.Errorf("%s: %v, %v: want an error with %q", pack, got, err, reason)
		}
	}
	var many []string
	for i := range MaxChannels + 1 {
		many = append(many, `{"n":"air-temperature:p`+strings.Repeat("x", i%30)+string(rune('a'+i/30))+`","v":1}`)
	}
	if _, err := DecodePack("back-room", "mast", []byte("["+strings.Join(many, ",")+"]"), received); err == nil || !strings.Contains(err.Error(), "at most 64") {
		t.Errorf("65 channels: %v", err)
	}
}
