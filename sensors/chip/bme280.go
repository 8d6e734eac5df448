package chip

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/bmxx80"

	"recoat/sensors"
)

// The registers read beside the driver (BST-BME280-DS002, section 5.3).
const (
	regCalTP   = 0x88
	regID      = 0xD0
	regCalH    = 0xE1
	regCtrlHum = 0xF2
	regStatus  = 0xF3
	regData    = 0xF7

	idBME280 = 0x60

	statusMeasuring = 1 << 3
	statusLoading   = 1 << 0
)

// One conversion of each quantity per read: the least self-heating, at a noise
// (0.005 °C, 0.07 %, 3 Pa) far below the chip's error. Temperature gets two.
var oversampling = bmxx80.Opts{Temperature: bmxx80.O2x, Pressure: bmxx80.O1x, Humidity: bmxx80.O1x}

// errSkipped says that a converter's register held the value that stands for
// "not measured". A true value can coincide with it.
var errSkipped = errors.New("a register holds the value of a skipped measurement")

// BME280 reads air temperature, relative humidity and pressure. It is a
// sensors.Source; after any error it should be opened anew.
type BME280 struct {
	name string
	tap  *tap
	dev  *bmxx80.Dev
	cal  calibration
	mu   sync.Mutex // held for the length of a read
}

// BME280Channels lists what a BME280 gives.
func BME280Channels() []sensors.Channel {
	return []sensors.Channel{
		{Quantity: sensors.AirTemperature},
		{Quantity: sensors.AirHumidity},
		{Quantity: sensors.AirPressure},
	}
}

// BME280Name returns what the chip at addr of the bus called where is called.
func BME280Name(where string, addr uint16) string {
	return fmt.Sprintf("bme280 at %s %#02x", where, addr)
}

// OpenBME280 finds the chip at addr (0x76 or 0x77), reads its calibration and
// sets it up. The bus stays the caller's; where is its name in messages.
func OpenBME280(bus i2c.Bus, addr uint16, where string) (*BME280, error) {
	b := &BME280{name: BME280Name(where, addr), tap: &tap{Bus: bus, addr: addr}}
	if err := b.open(); err != nil {
		return nil, fmt.Errorf("open %s: %w", b.name, err)
	}
	return b, nil
}

func (b *BME280) open() (err error) {
	b.tap.begin(context.Background())
	if err = b.identify(); err != nil {
		return err
	}
	if err = b.awaitLoaded(); err != nil {
		return err
	}
	if b.cal, err = readCalibration(b.tap); err != nil {
		return err
	}
	opts := oversampling
	b.dev, err = bmxx80.NewI2C(b.tap, b.tap.addr, &opts)
	return err
}

// Name says which chip this is and where.
func (b *BME280) Name() string { return b.name }

// Channels lists air temperature, relative humidity and pressure.
func (b *BME280) Channels() []sensors.Channel { return BME280Channels() }

// Read measures once, which takes some 10 ms. It fails where the chip is not the
// one that was opened, has restarted since, does not finish or says that it did
// not measure.
func (b *BME280) Read(ctx context.Context) ([]sensors.Reading, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	got, err := b.measure(ctx)
	if errors.Is(err, errSkipped) {
		got, err = b.measure(ctx) // a live converter says something else now
	}
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", b.name, err)
	}
	return got, nil
}

func (b *BME280) measure(ctx context.Context) ([]sensors.Reading, error) {
	b.tap.begin(ctx)
	if err := b.identify(); err != nil {
		return nil, err
	}
	var env physic.Env
	if err := b.dev.Sense(&env); err != nil {
		return nil, err
	}
	if err := b.configured(); err != nil {
		return nil, err
	}
	raw, err := b.tap.data.raw()
	if err != nil {
		return nil, err
	}
	channels := b.Channels()
	return []sensors.Reading{
		{Channel: channels[0], Value: celsius(env.Temperature)},
		{Channel: channels[1], Value: b.cal.percent(raw)},
		{Channel: channels[2], Value: float64(env.Pressure) / float64(physic.Pascal)},
	}, nil
}

func celsius(t physic.Temperature) float64 {
	return float64(t-physic.ZeroCelsius) / float64(physic.Kelvin)
}

func (b *BME280) identify() error {
	id, err := b.tap.register(regID)
	if err != nil {
		return err
	}
	if id != idBME280 {
		return fmt.Errorf("the chip calls itself %#02x, a BME280 says %#02x: is another part at this address, or the wiring loose?", id, idBME280)
	}
	return nil
}

// awaitLoaded waits until the chip has copied its calibration to where it is
// read, which it does for 2 ms after power-on.
func (b *BME280) awaitLoaded() error {
	for range 10 {
		status, err := b.tap.register(regStatus)
		if err != nil {
			return err
		}
		if status&statusLoading == 0 {
			return nil
		}
		time.Sleep(time.Millisecond)
	}
	return errors.New("the chip does not finish loading its calibration")
}

// configured reports a chip that has lost its settings since they were written.
// The driver writes ctrl_hum once only, so after a dip in the supply the chip
// goes on without humidity, and says nothing.
func (b *BME280) configured() error {
	var got [3]byte // ctrl_hum, status, ctrl_meas
	if err := b.tap.Tx(b.tap.addr, []byte{regCtrlHum}, got[:]); err != nil {
		return err
	}
	hum, meas := byte(oversampling.Humidity), byte(oversampling.Temperature)<<3|byte(oversampling.Pressure)
	if got[0]&7 != hum || got[2]>>2 != meas {
		return fmt.Errorf("the chip has lost its settings (ctrl_hum %#02x, ctrl_meas %#02x): its supply dipped", got[0], got[2])
	}
	return nil
}
