package document

import (
	"fmt"
	"math"
	"strings"

	"recoat/drying"
	"recoat/internal/audit"
)

// The sentences here carry a section's main figures, for a page that folds the
// section under them.

func counted(n int, one, many string) string {
	switch n {
	case 0:
		return "no " + many
	case 1:
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func appliedSum(c *audit.CoatFacts) string {
	parts := []string{c.Product}
	for _, text := range []string{c.Method, unit(c.FilmUM, "µm wet"), note("batch ", c.Batch), note("thinned ", unit(c.ThinnedPct, "%"))} {
		if text != "" {
			parts = append(parts, text)
		}
	}
	return strings.Join(parts, ", ") + "."
}

func criteriaSum(all []audit.Criterion) string {
	counts := map[audit.Outcome]int{}
	for _, c := range all {
		counts[c.Outcome]++
	}
	return fmt.Sprintf("%d of %d met, %d not met; of %d it cannot be said.", counts[audit.Met], len(all), counts[audit.NotMet], counts[audit.Unknown])
}

// defectSum counts what the record says of each possible cause.
func (w writer) defectSum(d *audit.DefectFacts) string {
	var order []string
	counts := map[string]int{}
	for _, c := range d.Causes {
		said := string(c.Indication)
		if counts[said] == 0 {
			order = append(order, said)
		}
		counts[said]++
	}
	for i, said := range order {
		order[i] = fmt.Sprintf("%s %d", said, counts[said])
	}
	return fmt.Sprintf("%s, seen %s. Of %s the record: %s.", d.ID, w.when(&d.Seen), counted(len(d.Causes), "possible cause", "possible causes"), strings.Join(order, ", "))
}

func (w writer) stagesSum(r *audit.Record) string {
	for _, x := range r.Stages {
		if x.Stage != drying.DryToRecoat.String() {
			continue
		}
		label := "; the label: " + span(x.StatedMin)
		switch {
		case x.Reached:
			return "Dry to recoat after " + span(x.TookMin) + ", " + w.when(x.Likely) + label + "."
		case x.Likely != nil:
			return "Dry to recoat likely " + w.when(x.Likely) + label + "."
		}
		return "Not dry to recoat, and no time can be told" + label + "."
	}
	return counted(len(r.Stages), "stage", "stages") + "."
}

// span is a length in minutes as a person says it.
func span(f *audit.Figure) string {
	if f == nil {
		return "–"
	}
	minutes := int64(math.Round(float64(*f)))
	switch {
	case minutes < 60:
		return fmt.Sprintf("%d min", minutes)
	case minutes%60 == 0:
		return fmt.Sprintf("%d h", minutes/60)
	}
	return fmt.Sprintf("%d h %d min", minutes/60, minutes%60)
}

func (w writer) windowsSum(r *audit.Record) string {
	for _, x := range r.Windows {
		if x.Name == audit.ToRecoat && x.Air != nil {
			text := fmt.Sprintf("Until dry to recoat: air %s to %s °C, %s to %s %% RH", x.Air.Min, x.Air.Max, x.Humidity.Min, x.Humidity.Max)
			if x.Margin != nil {
				text += ", least dew margin " + x.Margin.Min.String() + " K"
			}
			return text + "."
		}
	}
	return counted(len(r.Windows), "span", "spans") + "."
}

func preparationSum(r *audit.Record) string {
	if len(r.Preparation)+len(r.Moisture) == 0 {
		return "Not recorded."
	}
	done := 0
	for _, p := range r.Preparation {
		if p.Done != nil {
			done++
		}
	}
	return fmt.Sprintf("%d of %d steps ticked as done, %s of the wood's moisture.", done, len(r.Preparation), counted(len(r.Moisture), "reading", "readings"))
}
