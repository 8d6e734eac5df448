package dashboards

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"recoat/drying"
)

// planFrom says where the figures of a plan come from.
func (w words) planFrom(r *planResult, p planned, ask planAsk, now time.Time) []source {
	var labels []string
	for _, c := range ask.coats {
		if label := w.labelled(c.Product); !slices.Contains(labels, label) {
			labels = append(labels, label)
		}
	}
	ways := fmt.Sprintf("%d ways the room may go", p.ways)
	out := []source{
		{"from-plan-label", strings.Join(labels, ". ") + ". Each way's air counts against that, as it does for a coat that dries."},
		{"from-plan-chance", "The chance is how many of " + ways + ", forecast from its own last days, keep within every limit from the start until the coat is tack-free: " + r.Chance + "."},
	}
	for i, b := range r.Bars {
		if b.Chance == "" {
			continue
		}
		after := "It begins at the start that is asked for."
		if i > 0 {
			ready := "the coat before it is dry to recoat"
			if len(ask.names) > 0 {
				ready = "the coat before it has had what the schedule asks for, the work between them is done"
			}
			after = "It begins once " + ready + ", the room is fit, and it is between seven in the morning and nine at night, when somebody works; in the middle of the ways at " + b.From + ", " + b.FromSpan + "."
		}
		out = append(out, source{fmt.Sprintf("from-plan-coat-%d", i+1), b.Name + ". " + after + " Ready in the middle of the ways at " + b.Ready + ", and " + b.Spans + " in eight of ten."})
	}
	out = append(out, source{"from-plan-done", "The last coat at handling strength: " + r.Done + ", " + r.DoneSpan + ", eight times in ten."})
	for i, x := range p.whatIfs {
		out = append(out, source{"from-plan-" + x.key, w.whatIfFrom(r.WhatIfs[i], x)})
	}
	return out
}

// labelled is what a label says until the next coat.
func (w words) labelled(p drying.Product) string {
	label := p.Name + ": dry to recoat after " + spell(p.Stated.Times[drying.DryToRecoat]) + " at " + w.temperature(p.Stated.Air) + " and " + percent(p.Stated.Humidity)
	if p.IsAssumed(drying.DryToRecoat.LabelKey()) {
		label += ", as is usual for its kind"
	}
	return label
}

func (w words) whatIfFrom(v whatIfView, x whatIf) string {
	text := x.title + ": the same coats planned once more in the same ways, with that changed and without: " + v.Saves + "."
	if v.Energy == "" {
		return text
	}
	low, high := x.change.Watts()
	return text + fmt.Sprintf(" It takes %.0f to %.0f W in a small workshop, from the start until the last coat can be handled: %s.", low, high, v.Energy)
}
