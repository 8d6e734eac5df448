package schedule

import "recoat/drying"

// Template is a schedule of a common system. All of them are common practice;
// none has a published source. What is done before paint and between coats, and
// that parts are reassembled before the topcoat where that is easier, is
// common practice too. They are a start: change them to what the labels say.
type Template struct {
	ID     string `json:"id"`
	Name   string `json:"name"`
	For    string `json:"for"` // when it is the one to take
	Source string `json:"source"`
	Steps  []Step `json:"steps"`
}

// commonPractice is the source of every template.
const commonPractice = "common practice, no source"

// Day waits that templates ask for, in minutes.
const overnight = 24 * 60

// Templates returns every template.
func Templates() []Template {
	return []Template{
		painted(), paintedNew(), clearWaterborne(), stainAndVarnish(), stainBarrierWaterborne(),
		openGrainLacquer(), frenchShellac(), alkydEnamel(), oiled(), twoPartClear(),
	}
}

// FindTemplate returns the template with an id.
func FindTemplate(id string) (Template, bool) {
	for _, t := range Templates() {
		if t.ID == id {
			return t, true
		}
	}
	return Template{}, false
}

// outline numbers the steps of a template; a step waits on the one that put a
// coat on before it.
type outline struct {
	steps []Step
	coat  int // the id of the last step that puts a coat on; 0: none yet
}

// then adds a step that follows the one before.
func (o *outline) then(k Kind, words string, grits ...int) *outline {
	return o.add(Step{Kind: k, Words: words, Grits: grits})
}

// after adds a step that waits for a stage of the coat before.
func (o *outline) after(stage drying.Stage, k Kind, words string, grits ...int) *outline {
	return o.wait(Wait{Stage: At(stage)}, k, words, grits...)
}

// wait adds a step that waits on the coat before in another way.
func (o *outline) wait(w Wait, k Kind, words string, grits ...int) *outline {
	w.Step = o.coat
	return o.add(Step{Kind: k, Words: words, Grits: grits, Waits: []Wait{w}})
}

func (o *outline) add(s Step) *outline {
	s.ID = len(o.steps) + 1
	o.steps = append(o.steps, s)
	if s.Kind.Coats() {
		o.coat = s.ID
	}
	return o
}

func (o *outline) template(id, name, takenFor string) Template {
	return Template{ID: id, Name: name, For: takenFor, Source: commonPractice, Steps: o.steps}
}

func painted() Template {
	o := new(outline).
		then(Clean, "wash off polish and grease, rinse, let it dry").
		then(Other, "rub a hidden spot, to learn what the old finish is").
		then(Sand, "scuff the old finish", 150, 220).
		then(Seal, "spot-seal knots and stains with a stain-blocking primer").
		after(drying.DryToRecoat, Prime, "bonding primer").
		after(drying.Sandable, Sand, "sand lightly, fill, spot-prime", 220).
		then(Colour, "colour, first coat").
		after(drying.Sandable, Sand, "sand lightly with the grain", 220).
		after(drying.DryToRecoat, Colour, "colour, second coat").
		after(drying.Handle, Reassemble, "put parts back where that is easier before the topcoat").
		after(drying.DryToRecoat, Topcoat, "clear coat, where it is wanted")
	return o.template("painted-over-old", "Painted over an old finish", "a piece with a sound old finish that is to be painted")
}

func paintedNew() Template {
	o := new(outline).
		then(Clean, "strip the old finish, rinse, let the wood dry").
		then(Sand, "strip, then refine with the grain", 150, 220).
		then(Prime, "stain-blocking primer, against bleed-through").
		after(drying.Sandable, Sand, "sand lightly", 220).
		after(drying.DryToRecoat, Colour, "colour, first coat").
		after(drying.Sandable, Sand, "sand lightly with the grain", 220).
		after(drying.DryToRecoat, Colour, "colour, second coat").
		after(drying.Handle, Reassemble, "put parts back where that is easier before the topcoat").
		after(drying.DryToRecoat, Topcoat, "topcoat")
	return o.template("painted-bare", "Painted, from bare wood", "a piece that is stripped and then painted in two colour coats")
}

func clearWaterborne() Template {
	o := new(outline).
		then(Sand, "sand with the grain", 150, 220).
		then(Other, "damp the wood to raise the grain, and let it dry").
		then(Sand, "sand off the raised grain", 220).
		then(Topcoat, "clear, first coat").
		after(drying.Sandable, Sand, "take off the nibs", 320).
		after(drying.DryToRecoat, Topcoat, "clear, second coat").
		after(drying.DryToRecoat, Topcoat, "clear, third coat").
		after(drying.Handle, Other, "turn it over").
		after(drying.Cured, Reassemble, "assemble, where finished faces meet")
	return o.template("clear-waterborne", "Clear waterborne, unstained", "light wood that is to stay as it is")
}

func stainAndVarnish() Template {
	o := new(outline).
		then(Sand, "sand with the grain", 150, 220).
		then(Stain, "oil stain; wipe off all that is left").
		wait(Wait{Stage: At(drying.DryToRecoat), LeastMin: overnight}, Topcoat, "oil varnish, first coat, thinned").
		after(drying.Sandable, Sand, "sand lightly", 320).
		after(drying.DryToRecoat, Topcoat, "oil varnish, second coat").
		after(drying.Sandable, Sand, "sand lightly", 320).
		after(drying.DryToRecoat, Topcoat, "oil varnish, third coat").
		after(drying.Cured, Other, "rub out")
	return o.template("stain-oil-varnish", "Oil stain and oil varnish", "a stained piece with a durable, warm finish")
}

func stainBarrierWaterborne() Template {
	o := new(outline).
		then(Sand, "sand with the grain", 150, 220).
		then(Stain, "oil stain; wipe off all that is left").
		wait(Wait{Stage: At(drying.DryToRecoat), Times: 3, Until: "it smells of nothing, and a white cloth takes no colour up"}, Seal, "dewaxed shellac, thin, as a barrier").
		after(drying.Sandable, Sand, "sand very lightly", 320).
		after(drying.DryToRecoat, Topcoat, "clear waterborne, first coat").
		after(drying.Sandable, Sand, "sand lightly", 320).
		after(drying.DryToRecoat, Topcoat, "clear waterborne, second coat").
		after(drying.DryToRecoat, Topcoat, "clear waterborne, third coat").
		after(drying.Handle, Reassemble, "")
	return o.template("stain-barrier-waterborne", "Oil stain, barrier, clear waterborne", "a stained piece under a waterborne clear coat")
}

func openGrainLacquer() Template {
	o := new(outline).
		then(Sand, "sand with the grain", 150, 220).
		then(Stain, "dye or stain").
		after(drying.DryToRecoat, Seal, "thin shellac wash").
		after(drying.DryToRecoat, Fill, "paste filler; wipe across the grain").
		wait(Wait{Stage: At(drying.Sandable), LeastMin: overnight}, Sand, "sand lightly", 320).
		after(drying.DryToRecoat, Seal, "sanding sealer").
		after(drying.Sandable, Sand, "sand lightly", 320).
		after(drying.DryToRecoat, Topcoat, "lacquer, first coat").
		after(drying.DryToRecoat, Topcoat, "lacquer, second coat").
		wait(Wait{Stage: At(drying.DryToRecoat), Times: 2}, Topcoat, "lacquer, third coat").
		after(drying.Cured, Other, "rub out")
	return o.template("open-grain-lacquer", "Lacquer on open grain", "oak, ash and other wood with large pores that are to be filled")
}

func frenchShellac() Template {
	o := new(outline).
		then(Sand, "sand with the grain", 150, 220, 320).
		then(Seal, "seal with thin shellac").
		after(drying.DryToRecoat, Fill, "fill the grain").
		after(drying.Sandable, Sand, "sand lightly", 400).
		after(drying.DryToRecoat, Topcoat, "shellac, first group of coats").
		wait(Wait{Stage: At(drying.DryToRecoat), LeastMin: overnight}, Topcoat, "shellac, second group of coats").
		wait(Wait{Stage: At(drying.DryToRecoat), LeastMin: overnight}, Topcoat, "shellac, third group of coats").
		wait(Wait{Stage: At(drying.Cured), LeastMin: overnight}, Other, "wax")
	return o.template("shellac", "Shellac", "old furniture that had it, and a finish that can be repaired")
}

func alkydEnamel() Template {
	o := new(outline).
		then(Sand, "sand with the grain", 150, 220).
		then(Prime, "oil primer").
		after(drying.Sandable, Sand, "sand", 220).
		after(drying.DryToRecoat, Colour, "undercoat").
		after(drying.Sandable, Sand, "sand lightly", 320).
		after(drying.DryToRecoat, Colour, "enamel, thin").
		after(drying.Cured, Reassemble, "put parts back, load the shelves")
	return o.template("alkyd-enamel", "Alkyd enamel", "a hard, smooth oil paint")
}

func oiled() Template {
	const wipe = "flood, wipe dry within minutes; lay the rags out flat outdoors"
	o := new(outline).
		then(Sand, "sand with the grain", 150, 220, 320).
		then(Topcoat, "oil, first coat: "+wipe).
		wait(Wait{Stage: At(drying.DryToRecoat), Until: "a cloth takes nothing up"}, Topcoat, "oil, second coat: "+wipe).
		wait(Wait{Stage: At(drying.DryToRecoat), Until: "a cloth takes nothing up"}, Topcoat, "oil, third coat: "+wipe).
		after(drying.Cured, Reassemble, "put it to use")
	return o.template("oil", "Penetrating oil or hardwax", "wood that is to feel like wood, and be oiled again")
}

func twoPartClear() Template {
	o := new(outline).
		then(Other, "measure the wood's moisture").
		then(Sand, "sand with the grain", 150, 220).
		then(Seal, "seal, thinned as the label says").
		after(drying.Sandable, Sand, "sand lightly", 320).
		after(drying.DryToRecoat, Topcoat, "two-part clear, second coat, inside the label's window").
		after(drying.DryToRecoat, Topcoat, "two-part clear, third coat, inside the window, or abrade first").
		after(drying.Cured, Reassemble, "assemble")
	return o.template("two-part-clear", "Two-part clear", "a table top that must bear a lot")
}
