package calibration

import (
	"fmt"
	"math"
	"time"

	"recoat/sensors"
)

// Method is how a sensor was checked.
type Method string

// The methods.
const (
	SaltOne    Method = "salt-one-point"
	SaltTwo    Method = "salt-two-points"
	IcePoint   Method = "ice-point"
	Comparison Method = "comparison" // beside an instrument that has a certificate
)

// Methods returns every method.
func Methods() []Method { return []Method{SaltOne, SaltTwo, IcePoint, Comparison} }

// Calibration is what one check found of one channel of one node. It corrects
// readings from From on, until the next one of that channel.
type Calibration struct {
	Node    string          `json:"node"`
	Channel sensors.Channel `json:"-"`
	From    time.Time       `json:"from"`
	Gain    float64         `json:"gain"`   // corrected = Gain × raw + Offset
	Offset  float64         `json:"offset"` // in the unit of the quantity
	Sigma   float64         `json:"sigma"`  // standard uncertainty of a corrected value, same unit
	Method  Method          `json:"method"`
	Who     string          `json:"who"`
	Due     time.Time       `json:"due"` // when the next check is due
	Note    string          `json:"note"`
}

// The bounds of what a correction may be. A sensor further out than this is
// not corrected but replaced. Common practice, no source.
const (
	leastGain, mostGain = 0.8, 1.25
	mostHumidityOffset  = 25 // %RH
	mostKelvins         = 5  // K
	longestDue          = 5 * 365 * 24 * time.Hour
)

// Calibratable reports whether a quantity can be checked and corrected here.
func Calibratable(q sensors.Quantity) bool {
	return q == sensors.AirTemperature || q == sensors.AirHumidity || q == sensors.SurfaceTemperature
}

// Check returns why the calibration cannot be, or nil.
func (c Calibration) Check() error {
	most := float64(mostKelvins)
	if c.Channel.Quantity == sensors.AirHumidity {
		most = mostHumidityOffset
	}
	known := false
	for _, m := range Methods() {
		known = known || m == c.Method
	}
	switch {
	case !Calibratable(c.Channel.Quantity):
		return fmt.Errorf("%v is not corrected: air temperature, relative humidity and surface temperature are", c.Channel)
	case !(c.Gain >= leastGain && c.Gain <= mostGain):
		return fmt.Errorf("a gain of %.3f is not between %v and %v: the sensor is worn out or the salts were mixed up", c.Gain, leastGain, mostGain)
	case !(math.Abs(c.Apply(middle(c.Channel.Quantity))-middle(c.Channel.Quantity)) <= most):
		return fmt.Errorf("a correction of more than %v %s: the sensor is worn out or the check went wrong", most, shownUnit(c.Channel.Quantity))
	case !(c.Sigma > 0 && c.Sigma <= most):
		return fmt.Errorf("an uncertainty of %v: it is above 0 and at most %v %s", c.Sigma, most, shownUnit(c.Channel.Quantity))
	case !known:
		return fmt.Errorf("the method %q is not known", c.Method)
	case c.From.IsZero() || !c.Due.After(c.From) || c.Due.Sub(c.From) > longestDue:
		return fmt.Errorf("the next check is due after this one and within five years")
	}
	return nil
}

// middle is a usual value of a quantity, where a correction is judged.
func middle(q sensors.Quantity) float64 {
	if q == sensors.AirHumidity {
		return 50
	}
	return 20
}

func shownUnit(q sensors.Quantity) string {
	if q == sensors.AirHumidity {
		return "%RH"
	}
	return "K"
}

// Apply returns the corrected value of a raw one. Humidity is held between 0
// and 100 %.
func (c Calibration) Apply(raw float64) float64 {
	v := c.Gain*raw + c.Offset
	if c.Channel.Quantity == sensors.AirHumidity {
		return min(max(v, 0), 100)
	}
	return v
}
