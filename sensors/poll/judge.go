package poll

import (
	"fmt"

	"recoat/sensors"
)

// judge says what a reading is worth. It returns the reading without its value
// and the reason where the value stands for a fault or cannot be meant, and the
// reading as suspect where the value is outside what a workshop can have.
func judge(r sensors.Reading) (sensors.Reading, error) {
	none := sensors.Reading{Channel: r.Channel, Quality: sensors.Missing}
	q, v := r.Channel.Quantity, r.Value
	switch {
	case r.Quality == sensors.Missing:
		return none, nil
	case !q.Possible(v):
		return none, fmt.Errorf("%s: %v %s cannot be", r.Channel, v, q.Unit())
	case faultCode(q, v):
		return none, fmt.Errorf("%s: %v %s is what the probe says when it has not measured", r.Channel, v, q.Unit())
	case r.Quality == sensors.Good && !plausible(q, v):
		r.Quality = sensors.Suspect
	}
	return r, nil
}

// faultCode reports whether a surface probe uses the value to say that it has
// converted nothing (85 °C, its power-on value) or could not (127.9375 °C,
// which the kernel gives as 127.937 and some documents as 127.94). Both are
// named in Linux's Documentation/w1/slaves/w1_therm.rst. Driver checks tell most of
// them from a true 85 °C by the scratchpad, but not on every copy of the chip.
func faultCode(q sensors.Quantity, v float64) bool {
	if q != sensors.SurfaceTemperature {
		return false
	}
	switch q.Steps(v) {
	case 85000, 127937, 127938, 127940:
		return true
	}
	return false
}

// plausible reports whether a workshop can have the value: -20 to 60 °C, and
// some water in the air (common practice, no source).
func plausible(q sensors.Quantity, v float64) bool {
	switch q {
	case sensors.AirTemperature, sensors.SurfaceTemperature:
		return v >= -20 && v <= 60
	case sensors.AirHumidity:
		return v > 0
	default:
		return true
	}
}
