package main

import "testing"

// What the wiring page has people put into their settings is understood.
func TestTheWiringPagesSettingsAreUnderstood(t *testing.T) {
	cfg, err := loadConfig(write(t, "recoat.toml", fenced(t, "../../firmware-config/WIRING.md", "[sensors]")))
	if err != nil || cfg.Sensors.I2C != "3" || cfg.Sensors.Mux != 0x70 {
		t.Errorf("%+v, %v", cfg.Sensors, err)
	}
	packaged, err := loadConfig("../../deploy/package/recoat.toml")
	if err != nil || packaged.Data.Folder != "/var/lib/recoat" {
		t.Errorf("the packaged settings: %+v, %v", packaged.Data, err)
	}
}
