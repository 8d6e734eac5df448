package chip

import (
	"errors"
	"fmt"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2creg"
	"periph.io/x/host/v3"
)

// ErrNoBus says that the machine shows no I²C bus at all.
var ErrNoBus = errors.New("this machine shows no I²C bus")

// OpenBus opens one of this machine's I²C buses by its number, such as "1", or
// the first there is where name is empty. The caller closes it. The error is
// ErrNoBus where there is none of whatever name.
func OpenBus(name string) (i2c.BusCloser, error) {
	if _, err := host.Init(); err != nil {
		return nil, fmt.Errorf("look for I²C buses: %w", err)
	}
	if len(i2creg.All()) == 0 {
		return nil, fmt.Errorf("%s: %w; on a Pi put dtparam=i2c_arm=on into config.txt, load i2c-dev, and let the user into the group i2c", wanted(name), ErrNoBus)
	}
	bus, err := i2creg.Open(name)
	if err != nil {
		return nil, fmt.Errorf("%s of %v: %w", wanted(name), i2creg.All(), err)
	}
	return bus, nil
}

func wanted(name string) string {
	if name == "" {
		return "open an I²C bus"
	}
	return fmt.Sprintf("open I²C bus %q", name)
}
