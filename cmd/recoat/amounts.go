package main

import (
	"fmt"
	"time"

	"recoat/internal/quantity"
)

// The types of flags of the shelf and the mixes, in mL, g, m², g/mL and days.
type (
	volumeFlag  float64
	areaFlag    float64
	densityFlag float64
	daysFlag    int64
)

func (f *volumeFlag) UnmarshalText(text []byte) error {
	v, err := quantity.ParseVolume(string(text))
	*f = volumeFlag(v)
	return err
}

func (f *areaFlag) UnmarshalText(text []byte) error {
	v, err := quantity.ParseArea(string(text))
	*f = areaFlag(v)
	return err
}

func (f *densityFlag) UnmarshalText(text []byte) error {
	v, err := quantity.ParseDensity(string(text))
	*f = densityFlag(v)
	return err
}

func (f *daysFlag) UnmarshalText(text []byte) error {
	const day = 24 * time.Hour
	v, err := quantity.ParseDuration(string(text))
	if err == nil && v%day != 0 {
		err = fmt.Errorf("%s is not a number of days: write one such as 180d", quantity.Quote(string(text)))
	}
	*f = daysFlag(v / day)
	return err
}

// thicknessFlag is in mm.
type thicknessFlag float64

func (f *thicknessFlag) UnmarshalText(text []byte) error {
	v, err := quantity.ParseThickness(string(text))
	*f = thicknessFlag(v)
	return err
}
