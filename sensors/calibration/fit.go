package calibration

import (
	"errors"
	"fmt"
	"math"

	"recoat/sensors"
)

// Known is one raw mean against what it should have been.
type Known struct {
	Raw, RawSigma     float64
	Truth, TruthSigma float64
}

// Fit is the correction that follows from one or two points: corrected =
// Gain × raw + Offset.
type Fit struct {
	Gain, Offset, Sigma float64
}

// At two points the salts have to lie apart by this much, %RH, or the gain
// would magnify every error.
const leastSpan = 25

// Sensors drift and bend between the points: what is added to the uncertainty
// of a check, as a standard uncertainty. Common practice, no source.
const (
	humidityBetween = 1.0 // one point says nothing of the other end
	humidityAcross  = 0.6 // two points
	kelvinsBetween  = 0.1
)

// OnePoint returns an offset.
func OnePoint(q sensors.Quantity, k Known) Fit {
	between := kelvinsBetween
	if q == sensors.AirHumidity {
		between = humidityBetween
	}
	return Fit{Gain: 1, Offset: k.Truth - k.Raw, Sigma: norm(k.RawSigma, k.TruthSigma, between)}
}

// TwoPoints returns a gain and an offset.
func TwoPoints(a, b Known) (Fit, error) {
	if math.Abs(a.Truth-b.Truth) < leastSpan {
		return Fit{}, fmt.Errorf("the two salts are %.0f %%RH apart: take two that are at least %d apart, such as magnesium and sodium chloride", math.Abs(a.Truth-b.Truth), leastSpan)
	}
	if !((a.Truth-b.Truth)*(a.Raw-b.Raw) > 0) {
		return Fit{}, errors.New("the sensor read more in the drier box: were the salts mixed up?")
	}
	gain := (b.Truth - a.Truth) / (b.Raw - a.Raw)
	worse := max(norm(a.RawSigma*gain, a.TruthSigma), norm(b.RawSigma*gain, b.TruthSigma))
	return Fit{Gain: gain, Offset: a.Truth - gain*a.Raw, Sigma: norm(worse, humidityAcross)}, nil
}

// iceSigma is how far a slush of clean ice and water may be from 0 °C in a
// workshop, K. Common practice, no source; the fixed point itself is 0.00 °C
// (ITS-90: 0.01 K below the triple point of water).
const iceSigma = 0.05

// AtIce is the point that a slush of ice and clean water gives.
func AtIce(raw, rawSigma float64) Known {
	return Known{Raw: raw, RawSigma: rawSigma, TruthSigma: iceSigma}
}

// AtSalt is the point that a salt gives at a temperature.
func AtSalt(s Salt, t sensors.Celsius, raw, rawSigma float64) (Known, error) {
	truth, err := s.Humidity(t)
	return Known{Raw: raw, RawSigma: rawSigma, Truth: truth, TruthSigma: s.Sigma(t)}, err
}

func norm(all ...float64) float64 {
	var squares float64
	for _, v := range all {
		squares += v * v
	}
	return math.Sqrt(squares)
}
