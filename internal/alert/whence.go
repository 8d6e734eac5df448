package alert

import (
	"fmt"
	"time"
)

// Whence says, in a sentence or two, what a rule looks at, from where on it tells
// of it and when that is over. It is empty for what is no rule.
func Whence(rule string) string {
	if text, ok := whenceOfRoom(rule); ok {
		return text
	}
	if text, ok := whenceOfCoat(rule); ok {
		return text
	}
	return whenceOfHouse(rule)
}

func minutes(d time.Duration) string { return fmt.Sprintf("%.0f min", d.Minutes()) }

func whenceOfRoom(rule string) (string, bool) {
	switch rule {
	case ruleUnfit:
		return fmt.Sprintf("A film here is not yet tack-free, and the room has broken a limit for %s: its own, or the usual one where it has none. Over once it has been fit for %s.", minutes(unfitHold), minutes(unfitClear)), true
	case ruleForecast:
		return fmt.Sprintf("A film here is not yet tack-free, and in %.0f of 100 ways the room may go, or more, it breaks a limit before that, for %s on end. Over below %.0f in 100.", 100*forecastChance, minutes(forecastHold), 100*forecastClearChance), true
	case ruleFitAgain:
		return "You asked to be told when the room is fit to coat.", true
	case ruleSettle:
		return fmt.Sprintf("The probe on a part that waits for its first coat reads %.0f K or more away from the air of the room, for %s. Over within %.1f K.", settleApart, minutes(settleHold), settleClose), true
	}
	return "", false
}

func whenceOfCoat(rule string) (string, bool) {
	switch rule {
	case ruleReady:
		return "By the drying model the coat has reached the stage. Its page says how that was reckoned.", true
	case ruleAhead:
		return "You asked to be told so long before the likely time. The page of the coat says how that was reckoned.", true
	case ruleRecoatBy:
		return fmt.Sprintf("The recoat window of the label, or of the room where it dries faster, ends within %.0f h, and another coat is to come.", recoatNotice.Hours()), true
	case ruleFilmCold:
		return fmt.Sprintf("The probe on the part reads below what the label, or the usual for its kind, says the film needs to form, for %s. Over %.0f K above it.", minutes(unfitHold), filmColdClear), true
	case ruleCondensation:
		return fmt.Sprintf("By the probe on the part its dew margin has been below the least that its product asks for, for %s. Over %.1f K above that, for %s. Critical where, within what the sensors may be off by, none is left.", minutes(unfitHold), kelvinsToClear, minutes(unfitClear)), true
	case ruleBlush:
		return fmt.Sprintf("Solvent leaves a film that may cloud, and the air has been nearer to its dew point than such a film bears, for %s.", minutes(unfitHold)), true
	case ruleStalled:
		return fmt.Sprintf("The pace of the coat has been below %.2f for %s: it all but stands still. Over from %.2f on.", stalledPace, minutes(stalledHold), stalledClearPace), true
	case ruleSlipped:
		return fmt.Sprintf("The likely time is later than was told half an hour after the coat, by %.0f %% of the time it then had to go and by %s at least.", 100*slippedShare, minutes(slippedLeast)), true
	}
	return "", false
}

func whenceOfHouse(rule string) string {
	switch rule {
	case ruleSilent:
		return "The node has not been heard for as long as silent_after of the configuration file says."
	case ruleMute:
		return "The node is heard, and gives no value for what it gave before."
	case ruleDoubt:
		return fmt.Sprintf("The sensor has given values that cannot be right for %s: out of what it can measure, standing still, or leaping.", minutes(doubtHold))
	case ruleDrift:
		return fmt.Sprintf("Two sensors of the room differ by more than they did on their first day together, for %s. Over below %.0f %% of that limit.", minutes(driftHold), 100*driftClear)
	case ruleCheck:
		return "The day by which the sensor was to be checked again has passed, or it failed its last check."
	case ruleClock:
		return fmt.Sprintf("The node has not known the time for %s.", minutes(clockHold))
	case ruleSupply:
		return fmt.Sprintf("The node's supply has been below what it needs for %s, by its voltage where that is measured, else by its own warning.", minutes(supplyHold))
	case ruleNames:
		return "Readings of two starts of one node have been measured beside each other for some minutes. A machine that starts anew measures nothing in its old start afterwards."
	case ruleStore:
		return fmt.Sprintf("Readings could not be written to disk for %s.", minutes(storeHold))
	case ruleDisk:
		return fmt.Sprintf("Less than %.0f %% of the hub's disk is free; critical below %.0f %%. Over from %.0f %% on.", 100*diskFree, 100*diskCritical, 100*diskClearFree)
	case ruleChannel:
		return fmt.Sprintf("A way to your phone has taken nothing for %s of trying.", minutes(channelHold))
	case ruleSelfTest:
		return "Once a week, so that a way to you that has gone silent is noticed."
	case ruleAllWell:
		return "Once a day, as the configuration file asks: silence is then noticed."
	case ruleDigest:
		return "What was held back in quiet hours, told together at their end."
	case ruleTrial:
		return "Somebody tried this way to the phone."
	}
	return ""
}
