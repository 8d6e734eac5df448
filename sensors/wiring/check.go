package wiring

import (
	"fmt"

	"recoat/sensors/chip"
)

// Check says what cannot be right, before anything is touched. The error names
// the key of the configuration.
func (cfg Real) Check() error {
	switch {
	case cfg.Mux != 0 && (cfg.Mux < 0x70 || cfg.Mux > 0x77):
		return fmt.Errorf("mux %#02x: a PCA9548 is at 0x70 to 0x77, and 0 is none", cfg.Mux)
	case cfg.Bridge != 0 && cfg.Bridge != 0x18 && cfg.Bridge != 0x19:
		return fmt.Errorf("bridge %#02x: a DS2482 or DS2483 is at 0x18 or 0x19, and 0 is none", cfg.Bridge)
	case cfg.Emissivity != 0 && !(cfg.Emissivity >= 0.1 && cfg.Emissivity <= 1):
		return fmt.Errorf("emissivity %v: from 0.1 to 1, for paint and wood %v", cfg.Emissivity, chip.Emissivity)
	}
	type input struct {
		adc uint16
		n   int
	}
	taken := map[input]bool{}
	for i, t := range cfg.Thermistors {
		at := input{t.ADC, t.Input}
		if err := checkThermistor(t); err != nil {
			return fmt.Errorf("thermistors, number %d: %w", i+1, err)
		}
		if taken[at] {
			return fmt.Errorf("thermistors, number %d: another is on input %d of %#02x already", i+1, t.Input, t.ADC)
		}
		taken[at] = true
	}
	return nil
}

func checkThermistor(t Thermistor) error {
	if t.ADC < 0x48 || t.ADC > 0x4B {
		return fmt.Errorf("adc %#02x: an ADS1115 is at 0x48 to 0x4b", t.ADC)
	}
	return t.Check()
}
