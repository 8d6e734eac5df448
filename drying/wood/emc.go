// Package wood computes what the board under a coat does: where its moisture
// is heading, and how its surface follows the temperature of the room.
package wood

import "recoat/sensors"

// EMC returns the moisture content that wood tends to in air at t and rh, in
// per cent of its dry mass: Wood Handbook (FPL-GTR-282, 2021), equation 4-5.
// The handbook's table covers -1.1 to 132 °C and 5 to 95 %. A piece takes
// weeks to get there, its surface fibres minutes; species differ, and drying
// wood stays 1 to 4 points above wetting wood.
func EMC(t sensors.Celsius, rh sensors.RelativeHumidity) float64 {
	c := float64(t)
	w := 349 + 1.29*c + 0.0135*c*c
	k := 0.805 + 0.000736*c - 0.00000273*c*c
	k1 := 6.27 - 0.00938*c - 0.000303*c*c
	k2 := 1.91 + 0.0407*c - 0.000293*c*c
	kh := k * float64(rh) / 100
	hydrated := k1*kh + k1*k2*kh*kh
	return 1800 / w * (kh/(1-kh) + (hydrated+k1*k2*kh*kh)/(1+hydrated))
}
