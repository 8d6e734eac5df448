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
	titleCured     = "Cured, can be delivered: %s"
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

	titleRecoatBy  = "Recoat soon or abrade first: %s"
	titleTooLate   = "Recoat time is over, abrade first: %s"
	bodyClosesIn   = "The label's time to recoat ends %s, in %s."
	bodyClosed     = "The label's time to recoat ended %s."
	bodyNotReady   = "It is not ready to recoat yet."
	titleFilmCold  = "Film may not form: %s. Warm it."
	titleFilmWarm  = "Warm enough for the film again: %s"
	bodyFilmCold   = "The surface is at %.1f °C; the film forms above %.1f °C."
	titleDew       = "Water may settle on %s. Warm it."
	titleDewOver   = "Dew margin is back: %s"
	bodyDew        = "Surface %.1f °C, dew point %.1f °C: a margin of %.1f ± %.1f K; at least %.1f K is needed."
	titleBlush     = "May blush: %s. Dry the air."
	titleBlushOver = "No longer likely to blush: %s"
	bodyBlush      = "The air is %.1f K above its dew point; at least %.1f K is needed while solvent leaves."
	titleStalled   = "Drying stands still: %s"
	titleDries     = "Drying again: %s"
	bodyStalled    = "Pace %.2f since %s."
	bodyPace       = "Pace %.2f."
	titleSlipped   = "Ready later than told: %s"
	titleOnTime    = "Back on time: %s"
	bodySlipped    = "%s is now likely %s, not %s: %s later."
	titleSoon      = "Soon {what}: %s. {do}."
	bodyForecast   = "Likely from %s (a chance of %.0f %%), before the film closes about %s."
	titleStays     = "Likely to stay fit: %s"

	titleClock      = "Clock of node %s is not set: %s"
	titleClockSet   = "Clock of node %s is set: %s"
	bodyClock       = "Its readings are kept, and dated once the clock is set. Check its network."
	titleSupply     = "Low supply, check power of node %s: %s"
	titleSupplyOK   = "Supply of node %s is back: %s"
	bodySupplyAlarm = "The machine says that its supply is too low. Use a stronger one and a short, thick cable: readings may be wrong or stop."
	bodySupply      = "%.2f V; at least %.2f V is needed. Readings may be wrong or stop."
	titleNames      = "Two machines are named %s. Rename one: %s"
	titleNamesOver  = "One machine is named %s again: %s"
	bodyNames       = "Both send readings as this node, and push each other off the broker. A copied card is the usual cause: give one of them another node name in its configuration."
	titleStore      = "Readings are not stored. Check the hub's disk."
	titleStored     = "Readings are stored again"
	bodyStore       = "Since %s: %s"
	bodyStoreSpool  = "The nodes keep what was not stored and send it again."
	titleDisk       = "Disk nearly full, %.0f %% free. Make room."
	titleDiskOK     = "Room on the disk again, %.0f %% free"
	bodyDisk        = "%.1f GB of %.1f GB are free. Once it is full no reading is stored."
	titleChannel    = "Alerts do not get through: %s"
	titleChannelOK  = "Alerts get through again: %s"
	bodyChannel     = "Since %s: %s\nWhat was not sent is tried again."
	oneCoat         = "one coat is drying"
	manyCoats       = "%d coats are drying"
	titleSelfTest   = "Weekly test: alerts get through"
	bodySelfTest    = "%d of %d nodes are heard, %s.\nThe next test is due %s: if none comes, look at the hub."

	titleDoubt     = "Doubtful %s, check it: %s"
	titleBelieved  = "Believed again: %s: %s"
	bodyDoubt      = "Node %s gives values that cannot be right. They are kept, but not reckoned with."
	bodyDoubtSince = "Last good value %s."
	bodyDoubtGuess = "Until that is mended, the time of %s is a guess: touch test."
	titleCheck     = "Due for a check: %s: %s"
	titleChecked   = "Checked: %s: %s"
	bodyCheck      = "The sensor of node %s has not passed a check in time. Its values are kept, but not reckoned with."
	titleDrift     = "Two sensors disagree, check both: %s: %s"
	titleAgree     = "The sensors agree again: %s: %s"
	bodyDrift      = "%s and %s have moved %.1f %s apart since they were first compared; at most %.1f %s is usual. Neither says which is wrong."

	titleAheadSand   = "Sand about %s: %s"
	titleAheadRecoat = "Recoat about %s: %s"
	titleAheadHandle = "Handle about %s: %s"
	titleAhead       = "Ready about %s: %s"
	bodyAhead        = "Eight times in ten between %s and %s. You asked to be told ahead."
	titleSettle      = "Not as warm as the room yet: %s"
	titleSettled     = "As warm as the room now: %s"
	bodySettle       = "Its surface is at %.1f °C, the air at %.1f °C."
	bodySettleDo     = "Let it stand before it is coated: water may settle on a cold surface."

	titleAllWell    = "All well: %d of %d nodes heard, %s"
	titleNotAllWell = "Not all well: %d alerts stand"
	oneStands       = "Not all well: one alert stands"
	bodyAllWell     = "The next of these is due %s: if none comes, look at the hub."
	bodySeeAlerts   = "They are on the page Alerts."
	titleTrial      = "Test: this way to you works"
	bodyTrial       = "You asked for this test %s. Nothing is the matter."

	offerSeen   = "Seen"
	offerSnooze = "Tell me again in 1 h"
	offerDry    = "It is dry"
	offerTacky  = "Still tacky"
	offerCoat   = "Coat on"

	staleNote = "too old to wake anybody for: it was not sent, and is on the page Alerts"

	titleDigest    = "Held back until now: %d things"
	digestPlain    = "%s: %s"
	digestEnded    = "%s to %s, over: %s"
	digestOver     = "%s, over by now: %s"
	bodyDigestMore = "And %d more: see the page Alerts."
	bodyBegan      = "It began %s: %s\n"
	bodyOverByNow  = "This is over by now.\n"
	bodyUnanswered = "Nobody has acknowledged this for %s.\n"

	andMore    = "%s and %d more"
	lateNotice = "Late: this was %s.\n"

	clockToday = "Mon 15:04"
	clockFar   = "Mon 2 Jan 15:04"
	clockPlain = "15:04"
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
