package audit

import "recoat/drying"

// The windows in which causes lie.
var (
	w1       = openFilm
	toRecoat = ToRecoat
	toHandle = toStage(drying.Handle)
)

// Where the defects were read. Limits are this project's own unless the source
// gives them; a finisher may know better.
const (
	tm   = "Army TM 43-0139"
	nav  = "NAVEDTRA 14044, chapter 8"
	hb   = "MIL-HDBK-1110"
	wh   = "Wood Handbook, FPL-GTR-190, chapter 16"
	prac = "common practice, no source"
	own  = "; limits: our own judgement"
)

// kinds are the defects that can be recorded, with what speaks for and against
// each cause.
var kinds = []Kind{
	{Code: "blushing", Title: "Blushing: a milky haze minutes after coating", Source: tm + ", 5-23; " + hb + ", 11.4.1.5; limits: trade practice",
		Remedy: "A warmer, drier room; mist with a slow solvent, or sand and recoat when dry.",
		causes: []cause{
			{"evaporation chilled the film below the dew point", []clue{under(w1, airMargin, 11), over(w1, humid, 75), under(w1, dewMargin, 5), keptOver(w1, airMargin, 15), keptUnder(w1, humid, 50)}},
			{"the solvent was too fast for the day", nil}, {"wet wood, or water in the air line", []clue{over("", woodMoisture, 12)}},
		}},
	{Code: "not-coalesced", Title: "Waterborne film powdery, cracked or cloudy, rubs off", Source: wh + "; " + hb + ", 2.3.2" + own,
		Remedy: "Warm it and wait; if it is powdery, take it off.",
		causes: []cause{
			{"too cold for the film to form", []clue{under(firstDay, surface, 10), instead(under(firstDay, air, 8)), keptOver(firstDay, surface, 15)}},
			{"too damp", []clue{over(toRecoat, humid, 85), under(toRecoat, dewMargin, 3), keptUnder(toRecoat, humid, 70)}},
			{"put on too thick", []clue{over("", film, 1.25), keptUnder("", film, 1.1)}}, {"a can that was frozen or old", nil},
		}},
	{Code: "tacky", Title: "Slow to dry, tack that stays", Source: tm + ", 5-31; " + nav + own,
		Remedy: "Warmth and moving air; if it stays, take it off.",
		causes: []cause{
			{"cold", []clue{under(toHandle, surface, 10), instead(under(toHandle, air, 10)), keptOver(toHandle, surface, 15)}},
			{"put on too thick", []clue{over("", film, 1.25), keptUnder("", film, 1.1)}},
			{"damp or still air", []clue{over(toHandle, humid, 80), under(toHandle, speed, 0.05), keptUnder(toHandle, humid, 65)}},
			{"the coat below was not dry", []clue{under("", recoated, 1), keptOver("", recoated, 2)}},
			{"oil or wax on the surface, aged driers, or an oily species", nil},
		}},
	{Code: "wrinkling", Title: "Wrinkling: a crinkled skin", Source: nav + "; 32 °C: " + hb + ", 7.4.1" + own,
		Remedy: "Cut it back when it is hard, then a thin coat.",
		causes: []cause{
			{"put on too thick", []clue{over("", film, 1.25), keptUnder("", film, 1.1)}},
			{"a skin over a wet film: cold, or heat", []clue{under(w1, surface, 10), over(w1, surface, 32)}},
			{"recoated too soon", []clue{under("", recoated, 1), keptOver("", recoated, 1.5)}}, {"too much drier", nil},
		}},
	{Code: "lifting", Title: "Lifting: the coat below swells or crazes", Source: prac,
		Remedy: "Strip what lifted; a barrier before the next coat.",
		causes: []cause{
			{"the coat below was half cured", []clue{under("", recoated, 1), keptOver("", recoated, 3)}},
			{"a stronger solvent over a soluble film", nil},
			{"cold while the coat below dried", []clue{under(dayBefore, surface, 10)}},
		}},
	{Code: "runs", Title: "Runs and sags", Source: tm + ", 5-30; " + hb + ", 11.4.1.12", Seldom: true,
		Remedy: "Let it harden, sand, recoat; a sag may stay soft inside.",
		causes: []cause{{"too much at once, over-thinned, or a slow gun", []clue{over("", film, 1.25)}}, {"cold, so that it set slowly", []clue{under(w1, surface, 10)}}}},
	{Code: "orange-peel", Title: "Orange peel", Source: tm + ", 5" + own, Seldom: true, Remedy: "Level and recoat.",
		causes: []cause{{"viscosity, poor atomising or distance", nil}, {"a draught, heat or dry air", []clue{over(w1, air, 30), over(w1, speed, 0.3), under(w1, humid, 30)}}}},
	{Code: "dry-spray", Title: "Dry spray: sandy to the touch", Source: hb + ", 11.4.1.11" + own, Remedy: "Sand and recoat.",
		causes: []cause{{"the gun too far away, or a fast solvent", nil}, {"a warm or draughty room", []clue{over(w1, air, 30), over(w1, speed, 0.3), keptUnder(w1, air, 24)}}}},
	{Code: "crawling", Title: "Fisheyes, crawling, craters", Source: hb + ", 11.4.2.1; " + nav, Seldom: true,
		Remedy: "Wipe the wet coat off, clean, use a barrier.",
		causes: []cause{{"silicone, wax or oil on the surface: the usual cause, never in a room's record", nil}, {"dew on the surface", []clue{under(w1, dewMargin, 0), keptOver(w1, dewMargin, 5)}}}},
	{Code: "bubbles", Title: "Bubbles, pinholes", Source: prac, Remedy: "Sand; thin coats, while the piece cools rather than warms.",
		causes: []cause{
			{"the piece warmed while the film was open, and its pores breathed out", []clue{over(w1, rise, 2), keptUnder(w1, rise, 0.6)}},
			{"shaken or over-brushed", nil}, {"put on too thick, in the heat", []clue{over("", film, 1.25), over(w1, air, 30)}},
		}},
	{Code: "blisters-wet", Title: "Blisters with water inside, down to the wood", Source: wh + "; " + tm + ", 5-22; " + hb + ", 11.4.2.7" + own, Remedy: "Dry it, strip, recoat.",
		causes: []cause{{"water in or behind the wood", []clue{over("", woodMoisture, 20), keptUnder("", woodMoisture, 10)}}, {"washed or stripped on the day before", []clue{over("", washed, 0.5)}}, {"a leak after delivery", nil}}},
	{Code: "blisters-dry", Title: "Dry blisters within a day or two", Source: wh + "; " + nav + "; " + hb + ", 11.4.2.4" + own, Remedy: "Scrape, sand, recoat in the shade.",
		causes: []cause{{"sun or a heater skinned the film while it was wet below", []clue{over(firstDay, rise, 10), over(firstTwo, rise, 10), keptUnder(firstDay, rise, 5)}}, {"recoated too soon", []clue{under("", recoated, 1), keptOver("", recoated, 1.5)}}}},
	{Code: "peeling-between-coats", Title: "Peeling between coats, clean off the one below", Source: hb + ", 11.4.2.3; " + wh + own, Remedy: "Peel, abrade, a barrier coat.",
		causes: []cause{
			{"a greasy or glossy coat below", nil}, {"past its recoat window without abrading", []clue{over("", late, 1), keptUnder("", late, 1)}},
			{"dew between the coats", []clue{under(dayBefore, dewMargin, 0), under(w1, dewMargin, 3), keptOver(w1, dewMargin, 5)}}, {"two products that do not go together", nil},
		}},
	{Code: "peeling-to-wood", Title: "Peeling to bare wood", Source: hb + ", 6.3.1; 20 %: " + wh + own, Remedy: "Strip, sand, prime.",
		causes: []cause{{"wet wood", []clue{over("", woodMoisture, 12), keptUnder("", woodMoisture, 10)}}, {"weathered wood, dust, oil or resin", nil}, {"dew on the surface", []clue{under(w1, dewMargin, 3), keptOver(w1, dewMargin, 5)}}}},
	{Code: "cracking", Title: "Alligatoring, checking, crazing", Source: tm + ", 5-20; " + hb + ", 11.4.1.10", Remedy: "Strip.",
		causes: []cause{{"hard over soft, or over a coat that was not dry", []clue{under("", recoated, 1), keptOver("", recoated, 3)}}, {"put on too thick", []clue{over("", film, 1.25), keptUnder("", film, 1.1)}}, {"age, or the formula", nil}}},
	{Code: "cracks-along-grain", Title: "Cracks along the grain or over joints", Source: wh + own, Remedy: "Let it settle, scuff, add coats.",
		causes: []cause{{"the wood moved", []clue{over(wholeCure, swing, 3), keptUnder(wholeCure, swing, 1.5)}}, {"coated wet", []clue{over("", woodMoisture, 12)}}, {"joints, or shrinkage from before", nil}}},
	{Code: "bleed-through", Title: "Bleed-through: brown, pink or yellow", Source: wh + "; " + tm + ", 5-21; " + nav + own, Remedy: "A sealing primer, recoat.",
		causes: []cause{{"extractives, knots, dye or an old stain", nil}, {"the primer below was not dry", []clue{under("", recoated, 1), over(dayBefore, humid, 80), keptOver("", recoated, 2)}}}},
	{Code: "raised-grain", Title: "Raised grain", Source: prac + "; " + wh, Seldom: true, Remedy: "Sand after the first coat.",
		causes: []cause{{"water on fibres that were not raised and sanded first", nil}}},
	{Code: "blotching", Title: "Blotchy stain, lap marks", Source: prac, Seldom: true, Remedy: "Solvent wipe; a gel stain, or a seal first.",
		causes: []cause{{"uneven absorption, glue, sanding, end grain", nil}, {"heat, dry air or a draught, so that it dragged", []clue{over(w1, air, 28), under(w1, humid, 35), over(w1, speed, 0.3)}}}},
	{Code: "colour-dragged", Title: "Colour dragged by the next coat", Source: prac + "; 24 h: " + nav, Remedy: "A barrier coat.",
		causes: []cause{{"the stain below was not dry", []clue{under("", recoated, 1), keptOver("", recoated, 3)}}, {"a solvent that takes the stain up", nil}}},
	{Code: "dust", Title: "Dust nibs", Source: tm + ", 5-31" + own, Remedy: "De-nib and recoat.",
		causes: []cause{{"a tacky film for long", []clue{over("", tackTime, 6), keptUnder("", tackTime, 1)}}, {"a draught", []clue{over(w1, speed, 0.3), keptUnder(w1, speed, 0.15)}}, {"a dusty room", nil}}},
	{Code: "low-gloss", Title: "Low or patchy gloss", Source: nav + "; " + hb + ", 11.4.1.4" + own, Remedy: "Scuff and recoat.",
		causes: []cause{{"uneven soaking in, or matting agent not stirred", nil}, {"the coat below was not dry", []clue{under("", recoated, 1), keptOver("", recoated, 1.5)}}, {"cold or damp", []clue{under(toRecoat, surface, 10), over(toRecoat, humid, 80), under(toRecoat, dewMargin, 3), keptOver(toRecoat, dewMargin, 5)}}}},
	{Code: "brush-marks", Title: "Brush and roller marks", Source: prac, Seldom: true, Remedy: "Sand, thin, retard.",
		causes: []cause{{"over-brushed, thick paint, the tool", nil}, {"setting too fast: heat, dry air or a draught", []clue{over(w1, air, 28), under(w1, humid, 35), over(w1, speed, 0.3)}}}},
	{Code: "blocking", Title: "Blocking: sticking, or prints", Source: "ASTM D4946 for the factors (abstract read)" + own, Remedy: "Part, let it dry on, powder or wax.",
		causes: []cause{{"warm and damp, or cold, while it hardened", []clue{under(toHandle, surface, 10), over(toHandle, humid, 75), keptUnder(toHandle, humid, 65)}}, {"loaded or closed too early", nil}, {"put on too thick", []clue{over("", film, 1.25), keptUnder("", film, 1.1)}}}},
	{Code: "amine-bloom", Title: "A greasy film on two-part epoxy", Source: "AMPP paper 41205-190 (2005), abstract read" + own, Remedy: "Wash and abrade.",
		causes: []cause{{"damp and cool while it cured", []clue{under(toRecoat, dewMargin, 3), over(toRecoat, humid, 80), under(toRecoat, surface, 15), keptOver(toRecoat, dewMargin, 8)}}, {"fumes of a gas heater", nil}}},
	{Code: "foam", Title: "Foam in a urethane", Source: "from memory" + own, Remedy: "Sand back.",
		causes: []cause{{"isocyanate met water from the air", []clue{over(toRecoat, humid, 70), keptUnder(toRecoat, humid, 60)}}, {"wet wood", []clue{over("", woodMoisture, 12), keptUnder("", woodMoisture, 10)}}, {"a wet solvent", nil}}},
	{Code: "white-rings", Title: "White rings after delivery, water marks", Source: prac, Remedy: "Gentle warmth, rub, recoat.",
		causes: []cause{{"heat or wet on a film that was still young", nil}, {"the cure was cold or damp", []clue{under(wholeCure, surface, 10), over(wholeCure, humid, 80)}}}},
	{Code: "telegraphing", Title: "Filler sinks or shows through", Source: "24 h: " + nav + "; " + prac, Remedy: "Refill and sand.",
		causes: []cause{{"filler or coat below not dry when it was levelled", []clue{under("", recoated, 1), keptOver("", recoated, 2)}}, {"a deep fill", nil}}},
	{Code: "black-marks", Title: "Black or blue-grey marks", Source: wh + " for iron", Seldom: true, Remedy: "Oxalic acid bleach, rinse, dry: it is poisonous, follow its label.",
		causes: []cause{{"iron, tannin and water: steel wool, nails, the species", nil}, {"the surface was wetted", []clue{over("", washed, 0.5)}}}},
	{Code: "yellowing", Title: "Yellowing", Source: hb + ", 11.4.1.8", Seldom: true, Remedy: "Choose another resin.",
		causes: []cause{{"an oil film in the dark, light, or the resin", nil}}},
}
