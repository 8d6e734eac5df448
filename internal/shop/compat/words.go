package compat

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"recoat/internal/quantity"
)

// name is what a layer is called in a sentence.
func (l Layer) name() string {
	switch {
	case l.Product != "":
		return l.Product
	case l.Class == "":
		return "what is not known"
	}
	return l.Class.words()
}

func eachWords(classes []Class) string {
	var all []string
	for _, c := range classes {
		if !slices.Contains(all, c.words()) {
			all = append(all, c.words())
		}
	}
	return strings.Join(all, " or ")
}

// text says how long to wait.
func (s Span) text(below Layer, since time.Duration) string {
	var parts []string
	if s.Times > 0 {
		times := "the recoat time of the coat below"
		if s.Times != 1 {
			times = strconv.FormatFloat(s.Times, 'g', 3, 64) + " times " + times
		}
		if below.Recoat > 0 {
			times += ", " + quantity.FormatDuration(s.least(below.Recoat))
		}
		parts = append(parts, times)
	}
	if s.For > 0 {
		parts = append(parts, "at least "+quantity.FormatDuration(s.For))
	}
	if s.Until != "" {
		parts = append(parts, "until "+s.Until)
	}
	text := strings.Join(parts, ", ")
	if since > 0 && s.Until == "" {
		text += " (" + passedWords(since) + " by the clock)"
	}
	return text
}

// sentence says what to do; waiting says how long.
func (m Measures) sentence(waiting string) string {
	words := map[Measures]string{
		Wait: "wait " + waiting, Clean: "clean", Abrade: "abrade", Prime: "prime", Barrier: "put thin dewaxed shellac or a bonding primer between",
		Thin: "keep the first coat thin", Patch: "try a hidden patch first", Seal: "seal it afterwards", Strip: "strip it off first",
	}
	var steps []string
	for i := range measureNames {
		if w, ok := words[1<<i]; ok && m.Has(1<<i) {
			steps = append(steps, w)
		}
	}
	do := strings.Join(steps, ", ")
	switch {
	case m.Has(Avoid) && do != "":
		return "better not; if it must be, " + do + "."
	case m.Has(Avoid):
		return "better not."
	case do != "":
		return do + "."
	}
	return "nothing known against it."
}

// passedWords tells a time that has passed, in whole minutes.
func passedWords(d time.Duration) string {
	if d = d.Round(time.Minute); d < time.Minute {
		return "less than a minute has passed"
	}
	if d == time.Minute || d == time.Hour {
		return quantity.FormatDuration(d) + " has passed"
	}
	return quantity.FormatDuration(d) + " have passed"
}
