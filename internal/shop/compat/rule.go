package compat

import "time"

// Confidence is how far a rule can be leant on.
type Confidence string

// The confidences.
const (
	High   Confidence = "high"
	Medium Confidence = "medium"
	Low    Confidence = "low"
)

// Span is how long a layer must wait for the one below.
type Span struct {
	Times float64       // as many times the lower one's own recoat time
	For   time.Duration // and at least this
	Until string        // and until this, which no clock can tell
}

// Rule is what is known of some layers over some others.
type Rule struct {
	Below, Above []Class // concrete ones
	Same         bool    // only for a product over itself
	Do           Measures
	Wait         Span
	Note         string
	Reason       Reason
	Confidence   Confidence
	Source       string
}

// Reason is the id of why a rule stands.
type Reason string

// The reasons.
const (
	SameCure         Reason = "same-cure"
	StrongSolvent    Reason = "strong-solvent"
	CrossLinked      Reason = "cross-linked"
	RigidOverSoft    Reason = "rigid-over-flexible"
	GlossyAlkyd      Reason = "glossy-alkyd"
	Redissolves      Reason = "redissolves"
	ClosedWood       Reason = "closed-wood"
	WaxOrSilicone    Reason = "wax-or-silicone"
	OilResidue       Reason = "oil-residue"
	Bleeds           Reason = "bleeds"
	NotKnownBelow    Reason = "unknown-film"
	SoftensYoung     Reason = "softens-young-film"
	MildSolvent      Reason = "mild-solvent"
	TrappedSolvent   Reason = "trapped-solvent"
	NotDryBelow      Reason = "not-dry-below"
	BarrierCoat      Reason = "barrier-coat"
	SitsOnTop        Reason = "sits-on-top"
	PoresOpen        Reason = "pores-open"
	WaterMustLeave   Reason = "water-must-leave"
	LeavesFilm       Reason = "leaves-film"
	AbsorbsUnevenly  Reason = "absorbs-unevenly"
	Extractives      Reason = "extractives"
	WeatheredSurface Reason = "weathered"

	NoRule      Reason = "no-rule"
	TooSoon     Reason = "before-recoat"
	PastWindow  Reason = "past-recoat-window"
	FinisherOwn Reason = "own-rule"
)

// Text is the reason in a sentence.
func (r Reason) Text() string {
	return map[Reason]string{
		SameCure:         "What dries the same way above as below is the safest.",
		StrongSolvent:    "Its strong solvent attacks a coat that it can still dissolve: swelling, lifting, loss of bond.",
		CrossLinked:      "A fully cross-linked film cannot be bitten by the next coat.",
		RigidOverSoft:    "Over a film that stays more flexible, a harder one cracks or peels, and late.",
		GlossyAlkyd:      "Water-based coats bond poorly to smooth, fully cured alkyd.",
		Redissolves:      "The new coat partly dissolves the old one, so they fuse; each coat also wets the whole stack again, so waits grow.",
		ClosedWood:       "A film keeps oil and stain out of the wood: they lie on top and stay tacky.",
		WaxOrSilicone:    "Wax and silicone stop wetting and bonding.",
		OilResidue:       "Oil that is left in the pores keeps water-based coats from wetting the wood and lowers their bond.",
		Bleeds:           "Water or alcohol above can dissolve what lies below again.",
		NotKnownBelow:    "Nobody knows what the old film is: rub a hidden spot with a strong solvent, then coat a patch and look for some days. A patch shows solvent and wetting trouble, not the cracks that take months.",
		SoftensYoung:     "Alcohol softens a young acrylic film.",
		MildSolvent:      "Its mild solvent does not bite into the film below.",
		TrappedSolvent:   "Lacquer gives its solvent up slowly, and nothing above it bites in.",
		NotDryBelow:      "Over a coat that is not dry through, the next one cracks, stays tacky or blisters.",
		BarrierCoat:      "Thin shellac between two coats that do not suit each other is an old use of it.",
		SitsOnTop:        "It cannot soak in, so it lies on top as a glaze.",
		PoresOpen:        "A thin sealer leaves the pores open for the filler.",
		WaterMustLeave:   "The water that it brought must leave the wood first.",
		LeavesFilm:       "It leaves a film of its own, which dries longer than a stain that soaks in.",
		AbsorbsUnevenly:  "It takes up the next coat unevenly.",
		Extractives:      "What the wood holds stains through a coat that has not flowed together.",
		WeatheredSurface: "A surface that has weathered holds paint badly.",
		NoRule:           "That does not mean that it will do: try a small, hidden patch, and look at it for some days.",
		TooSoon:          "A coat put on too soon keeps the lower one soft, or lifts it.",
		PastWindow:       "After that the next coat finds nothing to bite into.",
		FinisherOwn:      "It is your own rule.",
	}[r]
}
