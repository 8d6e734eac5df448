package audit_test

import "recoat/sensors"

func celsius(v float64) sensors.Celsius          { return sensors.Celsius(v) }
func percent(v float64) sensors.RelativeHumidity { return sensors.RelativeHumidity(v) }
