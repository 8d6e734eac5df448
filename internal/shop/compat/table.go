package compat

import (
	"slices"
	"time"
)

// Where the rules come from.
const (
	practice    = "common practice, no source"
	ours        = "this project's own default, no source"
	h424        = "MIL-HDBK-1110 (1996) 4.2.4"
	h24         = "MIL-HDBK-1110 (1996) 2.4 and 2.4.2"
	h244        = "MIL-HDBK-1110 (1996) 2.4.4"
	h223        = "MIL-HDBK-1110 (1996) 2.2.3"
	h233        = "MIL-HDBK-1110 (1996) 2.3.3"
	h114        = "MIL-HDBK-1110 (1996) 11.4.2.3"
	h63         = "MIL-HDBK-1110 (1996) 6.3.1"
	army223     = "Army TM 43-0139, 2-23"
	army520     = "Army TM 43-0139, 5-20"
	navy241     = "NAVEDTRA 14044, chapter 8, page 241"
	navy242     = "NAVEDTRA 14044, chapter 8, page 242"
	handbook388 = "USDA Wood Handbook FPL-GTR-190, 16-32"
	handbook378 = "USDA Wood Handbook FPL-GTR-190, chapter 16"
	brief10     = "NPS Preservation Brief 10"
	topcoats    = "FPL 12-year exposure of weathered primers, Woodcoatings Congress 2008 (abstract)"
	oiledOak    = "a study of waterborne coats on oiled oak (abstract), scilit.net/article/5e1937ae45566d95dfcb0b50264a8433; the wait: " + ours
	silicone    = "a home-economics fact sheet on silicone polish"
)

var (
	bothShellacs = []Class{DewaxedShellac, WaxyShellac}
	bothTwoParts = []Class{SolventTwoPart, WaterTwoPart}
	soaking      = []Class{Oil, HardWax, Wax}
	waxes        = []Class{HardWax, Wax}
	stains       = []Class{WaterStain, OilStain}
	urethane     = []Class{Urethane}
	reactive     = join(bothTwoParts, urethane)
	films        = join([]Class{Waterborne, Lacquer, Alkyd}, bothShellacs, reactive)
	finishes     = join(films, soaking)
)

func join(lists ...[]Class) []Class { return slices.Concat(lists...) }

func one(c ...Class) []Class { return c }

// published is the wait of one day that the filler and stain instructions ask.
const published = 24 * time.Hour

// rules returns what is known, the special before the general: the first that
// fits counts. Where a wait is a multiple, the multiple is this project's own.
func rules() []Rule {
	stained := overOilStain()
	return slices.Concat(overWaterborne(), overShellac(), overLacquer(), overAlkyd(), overOil(), overCured(),
		anyStain(), overWaterStain(), stained, longer(stained), overFiller(), overTheRest())
}

func overWaterborne() []Rule {
	below := one(Waterborne)
	return []Rule{
		{Below: below, Above: below, Do: OK, Note: "Abrade a gloss first.", Reason: SameCure, Confidence: High, Source: h424 + "; abrading: " + practice},
		{Below: below, Above: bothShellacs, Do: Wait | Thin, Wait: Span{Times: 2}, Reason: SoftensYoung, Confidence: Medium, Source: practice},
		{Below: below, Above: one(Lacquer), Do: Avoid | Barrier | Patch, Reason: StrongSolvent, Confidence: Medium, Source: h24},
		{Below: below, Above: one(Alkyd), Do: Wait | Abrade, Wait: Span{Times: 2}, Note: "Indoors it is mild.", Reason: RigidOverSoft, Confidence: Medium, Source: brief10},
		{Below: below, Above: soaking, Do: Avoid, Reason: ClosedWood, Confidence: High, Source: practice},
		{Below: below, Above: one(SolventTwoPart), Do: Avoid | Barrier | Patch, Reason: StrongSolvent, Confidence: Medium, Source: h24},
		{Below: below, Above: one(WaterTwoPart), Do: Abrade, Reason: MildSolvent, Confidence: Low, Source: practice},
	}
}

func overShellac() []Rule {
	return []Rule{
		{Below: bothShellacs, Above: bothShellacs, Do: OK, Note: "Published: recoat after 2 to 3 hours, hard after 24.", Reason: Redissolves, Confidence: High, Source: army223},
		{Below: bothShellacs, Above: one(Lacquer), Do: OK | Thin, Note: "Shellac keeps stain out of lacquer.", Reason: Redissolves, Confidence: High, Source: handbook388},
		{Below: one(DewaxedShellac), Above: one(Waterborne, Alkyd), Do: OK | Abrade, Note: "Abrade lightly.", Reason: BarrierCoat, Confidence: Medium, Source: practice},
		{Below: one(WaxyShellac), Above: join(one(Waterborne), reactive), Do: Avoid | Barrier, Note: "It is disputed: informal workshop trials saw no failure.", Reason: WaxOrSilicone, Confidence: Low, Source: practice},
		{Below: one(DewaxedShellac), Above: reactive, Do: Avoid | Thin, Note: "Only over thin shellac, and only if the label allows it; no heavy build.", Reason: StrongSolvent, Confidence: Medium, Source: h24},
		{Below: bothShellacs, Above: soaking, Do: Avoid, Reason: ClosedWood, Confidence: High, Source: practice},
	}
}

func overLacquer() []Rule {
	below := one(Lacquer)
	return []Rule{
		{Below: below, Above: below, Do: OK, Reason: Redissolves, Confidence: High, Source: h233},
		{Below: below, Above: bothShellacs, Do: OK | Thin, Note: "Its alcohol bites little.", Reason: MildSolvent, Confidence: Medium, Source: practice},
		{Below: below, Above: one(Waterborne, Alkyd), Do: Wait | Abrade, Wait: Span{Until: "it is hard right through and smells of no solvent"}, Reason: TrappedSolvent, Confidence: Medium, Source: practice},
		{Below: below, Above: reactive, Do: Avoid | Patch, Reason: StrongSolvent, Confidence: High, Source: h24},
	}
}

func overAlkyd() []Rule {
	below := one(Alkyd)
	return []Rule{
		{Below: below, Above: below, Do: OK, Note: "When the coat below is dry through; abrade a gloss first.", Reason: NotDryBelow, Confidence: High, Source: army520},
		{Below: below, Above: one(Waterborne), Do: Wait | Abrade, Wait: Span{Times: 2}, Note: "A bonding primer between will do instead of abrading.", Reason: GlossyAlkyd, Confidence: High, Source: h244},
		{Below: below, Above: bothShellacs, Do: Wait, Wait: Span{Until: "it is hard dry"}, Reason: BarrierCoat, Confidence: High, Source: army223},
		{Below: below, Above: one(Lacquer), Do: Avoid | Barrier, Note: "Lacquer solvent wrinkles a young oil film.", Reason: StrongSolvent, Confidence: High, Source: practice},
		{Below: below, Above: bothTwoParts, Do: Avoid | Barrier, Reason: StrongSolvent, Confidence: Medium, Source: h24},
		{Below: below, Above: soaking, Do: Avoid, Reason: ClosedWood, Confidence: High, Source: practice},
		{Below: join(one(Waterborne), below), Above: urethane, Do: Avoid | Barrier | Patch, Note: "The gas that it gives off needs a way out.", Reason: StrongSolvent, Confidence: Low, Source: practice},
	}
}

func overOil() []Rule {
	below := one(Oil)
	return []Rule{
		{Below: below, Above: below, Do: OK | Wait, Wait: Span{Times: 1}, Note: "Wipe off all excess: air must reach the coat below.", Reason: SameCure, Confidence: High, Source: practice},
		{Below: below, Above: one(Alkyd), Do: Wait, Wait: Span{Times: 2}, Reason: SameCure, Confidence: High, Source: h424},
		{Below: below, Above: bothShellacs, Do: Wait, Wait: Span{Times: 2}, Reason: BarrierCoat, Confidence: Medium, Source: army223},
		{Below: below, Above: one(Waterborne), Do: Wait | Barrier, Wait: Span{Times: 3}, Reason: OilResidue, Confidence: High, Source: oiledOak},
		{Below: below, Above: join(one(Lacquer), reactive), Do: Wait | Barrier | Avoid, Wait: Span{Times: 3}, Reason: StrongSolvent, Confidence: Medium, Source: practice},
		{Below: one(HardWax), Above: one(HardWax), Same: true, Do: OK | Abrade | Thin, Note: "Abrade lightly.", Reason: SameCure, Confidence: Medium, Source: practice},
		{Below: waxes, Above: films, Do: Avoid | Strip, Reason: WaxOrSilicone, Confidence: High, Source: practice},
	}
}

func overCured() []Rule {
	return []Rule{
		{Below: bothTwoParts, Above: bothTwoParts, Same: true, Do: OK, Note: "Inside the label's window; after it, abrade or put a thin tie coat on.", Reason: CrossLinked, Confidence: High, Source: h223},
		{Below: urethane, Above: urethane, Do: OK, Note: "Inside the label's window; after it, abrade.", Reason: CrossLinked, Confidence: Medium, Source: practice},
		{Below: reactive, Above: soaking, Do: Avoid, Reason: ClosedWood, Confidence: High, Source: practice},
		{Below: bothTwoParts, Above: films, Do: Abrade, Note: "Late recoating is a usual cause of coats parting.", Reason: CrossLinked, Confidence: High, Source: h114},
		{Below: urethane, Above: films, Do: Abrade, Reason: CrossLinked, Confidence: Medium, Source: practice},
	}
}

func anyStain() []Rule {
	return []Rule{
		{Below: films, Above: stains, Do: Avoid, Reason: ClosedWood, Confidence: High, Source: practice},
		{Below: films, Above: one(GelStain), Do: Abrade | Thin | Wait | Seal, Wait: Span{Times: 2}, Reason: SitsOnTop, Confidence: Medium, Source: practice},
	}
}

func overWaterStain() []Rule {
	below := one(WaterStain)
	return []Rule{
		{Below: below, Above: one(Alkyd, Oil, Lacquer), Do: Wait, Wait: Span{Until: "the wood is dry"}, Note: "Spray lacquer, do not brush it.", Reason: WaterMustLeave, Confidence: Medium, Source: practice},
		{Below: below, Above: join(one(Waterborne), bothShellacs), Do: Barrier, Note: "Where it is brushed; a light sprayed or wiped-on coat as the seal will do.", Reason: Bleeds, Confidence: Medium, Source: practice},
	}
}

func overOilStain() []Rule {
	below := one(OilStain)
	return []Rule{
		{Below: below, Above: one(PasteFiller), Do: Wait, Wait: Span{For: published}, Reason: NotDryBelow, Confidence: High, Source: navy241},
		{Below: below, Above: one(Alkyd), Do: Wait, Wait: Span{Times: 1}, Reason: SameCure, Confidence: High, Source: practice},
		{Below: below, Above: bothShellacs, Do: Wait, Wait: Span{For: published}, Reason: NotDryBelow, Confidence: Medium, Source: ours},
		{Below: below, Above: one(Waterborne), Do: Wait | Barrier, Wait: Span{Times: 3}, Note: "The barrier is needed where any smell is left or a cloth takes colour up; the wait alone is no guarantee.", Reason: NotDryBelow, Confidence: High, Source: practice},
		{Below: below, Above: join(one(Lacquer), bothTwoParts), Do: Wait | Barrier, Wait: Span{Times: 2}, Note: "A thin wash coat of shellac keeps the stain where it is.", Reason: StrongSolvent, Confidence: Medium, Source: handbook388},
	}
}

// longer returns the rules for gel stain: as for oil stain, one step longer.
func longer(overStain []Rule) []Rule {
	all := slices.Clone(overStain)
	for i := range all {
		r := &all[i]
		r.Below, r.Reason, r.Confidence, r.Source = one(GelStain), LeavesFilm, Medium, practice
		if r.Wait.Times > 0 {
			r.Wait.Times++
		}
		if r.Wait.For > 0 {
			r.Wait.For += published
		}
	}
	return all
}

func overFiller() []Rule {
	return []Rule{
		{Below: one(ThinSealer), Above: one(PasteFiller), Do: OK | Wait, Wait: Span{Times: 1}, Reason: PoresOpen, Confidence: Medium, Source: practice},
		{Below: one(PasteFiller), Above: finishes, Do: Wait | Abrade, Wait: Span{For: published}, Note: "Sand lightly.", Reason: NotDryBelow, Confidence: High, Source: navy242},
		{Below: one(VarnishFiller), Above: one(Lacquer), Do: Avoid | Barrier, Note: "Lacquer dissolves it.", Reason: StrongSolvent, Confidence: Medium, Source: practice},
		{Below: one(WaterFiller), Above: finishes, Do: Wait | Abrade, Wait: Span{Until: "it is dry and light in colour"}, Note: "Sand it level.", Reason: WaterMustLeave, Confidence: Medium, Source: practice},
		{Below: one(BodyFiller), Above: finishes, Do: Abrade | Prime, Reason: AbsorbsUnevenly, Confidence: Medium, Source: practice},
	}
}

func overTheRest() []Rule {
	return []Rule{
		{Below: one(Knots), Above: films, Do: Barrier, Note: "Knot sealer or a stain-blocking primer; a water-based blocking primer needs 24 to 48 hours.", Reason: Extractives, Confidence: High, Source: handbook378},
		{Below: one(PolishResidue), Above: join(finishes, stains, one(GelStain)), Do: Clean | Barrier, Note: "Clean before sanding or stripping, changing cloths.", Reason: WaxOrSilicone, Confidence: High, Source: silicone},
		{Below: one(WeatheredWood), Above: films, Do: Abrade, Reason: WeatheredSurface, Confidence: Medium, Source: h63},
		{Below: one(WeatheredPrimer), Above: films, Do: Prime, Note: "The evidence is mixed: washed and lightly sanded primer did worse than new primer, and worse than coating it as it stood.", Reason: WeatheredSurface, Confidence: Medium, Source: topcoats},
		{Below: one(UnknownFilm), Above: join(finishes, stains, one(GelStain)), Do: Abrade | Barrier | Patch, Reason: NotKnownBelow, Confidence: High, Source: h24 + " and 4.2.4"},
	}
}
