package audit_test

import (
	"recoat/drying"
	"recoat/sensors"
)

func celsius(v float64) sensors.Celsius          { return sensors.Celsius(v) }
func percent(v float64) sensors.RelativeHumidity { return sensors.RelativeHumidity(v) }

// shopFilm scatters films so that they go with nothing.
func shopFilm(i int) drying.Microns { return drying.Microns([]float64{3, 9, 14, 1, 6, 12, 5, 8}[i%8]) }
