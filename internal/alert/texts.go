package alert

// Every text a finding can say is here, in English, so that another language
// is one file. Titles are cut to 60 characters by shortening the name in them.
const (
	titleTouch     = "Set to touch: %s"
	titleDust      = "Dust-free: %s"
	titleTack      = "Tack-free: %s"
	titleSand      = "Touch test, then sand: %s"
	titleRecoat    = "Touch test, then recoat: %s"
	titleHandle    = "Touch test, then handle: %s"
	titleCured     = "Cured: %s"
	titleDryButNot = "Dry, but do not coat yet: %s"

	bodyRecoatBy  = "Recoat before %s; later, abrade first."
	bodyRoomNot   = "The room is not fit. %s"
	bodyReckoned  = "Reckoned ready %s (%s to %s), %s after coating."
	bodyLabel     = "The label says %s; pace now %.2f."
	bodyNoLabel   = "The label gives no time, its kind usually takes %s; pace now %.2f."
	bodyTouchRule = "The label and local rules come first; touch decides."

	titleUnfit    = "%s: %s. %s."
	bodyUntil     = "Likely until %s."
	bodyNoEnd     = "No end in sight yet."
	bodyHeat      = "No flame or glowing heater near solvent vapour."
	titleFitAgain = "Fit to coat again: %s"

	titleSilent  = "Node %s is silent. Check its power: %s"
	bodyHeard    = "Last heard %s."
	bodyNotHeard = "Nothing heard since the hub started."
	bodyGuess    = "Until it is back, the time of %s is a guess: touch test."
	bodyNoWatch  = "Until it is back, nobody watches this room."
	titleHeard   = "Node %s is back: %s"

	titleMute     = "No %s. Check the sensor: %s"
	titleSpeaks   = "Measured again: %s: %s"
	bodyLastGood  = "Last good value %s, from node %s. Check its wires and its supply."
	bodyNeverGood = "No value from node %s since the hub started. Check its wires and its supply."

	andMore    = "%s and %d more"
	lateNotice = "Late: this was %s.\n"

	clockToday = "Mon 15:04"
	clockFar   = "Mon 2 Jan 15:04"
)

// trouble is what is wrong with a room and what to do, in a title's few words.
// Heat says that the cure may be a heater.
type trouble struct {
	what, do string
	heat     bool
}

// troubleOf finds the words for a reason's code.
func troubleOf(code string) trouble {
	switch code {
	case "dew-margin", "saturated":
		return trouble{"Near the dew point", "Warm it", true}
	case "film-cold", "surface-cold":
		return trouble{"Too cold", "Warm it", true}
	case "air-cold":
		return trouble{"Too cold", "Warm the room", true}
	case "air-hot", "surface-hot":
		return trouble{"Too hot", "Cool the room", false}
	case "humid", "surface-humid":
		return trouble{"Too damp", "Dry the air", false}
	case "blush":
		return trouble{"May blush", "Dry the air", false}
	case "dry":
		return trouble{"Too dry", "Moisten the air", false}
	}
	return trouble{"Not fit to coat", "See Tonight", false}
}
