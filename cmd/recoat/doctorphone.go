package main

import (
	"strings"

	"recoat/internal/doctor"
)

func lookAtPhone(cfg config) doctor.Finding {
	first, second, err := cfg.Alerts.open()
	if err != nil {
		return doctor.Finding{Subject: "phone", State: doctor.NotOK, Detail: err.Error(), Do: "mend [alerts] in the configuration"}
	}
	all := append(names(first), names(second)...)
	if len(all) == 0 {
		return doctor.Finding{Subject: "phone", State: doctor.NotThere, Detail: "no channel is configured: nothing reaches a phone", Do: "name one under [alerts]; deploy/recoat.toml says how"}
	}
	return doctor.Finding{Subject: "phone", State: doctor.OK, Detail: strings.Join(all, ", ") + " configured (nothing was sent)"}
}
