package room

import (
	"strings"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/sensors"
)

// findings asks every rule about this instant.
func (r *Room) findings() []alert.Finding {
	var all []alert.Finding
	p := r.present()
	spoilt := map[string]bool{}
	for _, j := range r.jobs {
		found, spoils := r.coatFindings(j, p)
		all = append(all, found...)
		if spoils {
			spoilt[j.ID] = true
		}
	}
	all = append(all, r.unfit(p, spoilt), r.willBeUnfit())
	all = append(append(all, r.wished()...), r.settling(p)...)
	for _, n := range r.inOrder() {
		all = append(all, r.nodeFindings(n)...)
	}
	all = append(all, r.drifting()...)
	if r.cfg.Fahrenheit {
		for i := range all {
			all[i].Body = alert.InFahrenheit(all[i].Body)
		}
	}
	return all
}

// measures names a channel for a person.
func (r *Room) measures(c sensors.Channel) string {
	name := strings.ReplaceAll(c.Quantity.String(), "-", " ")
	if c.Probe == "" {
		return name
	}
	return name + ", " + r.label(c.Probe)
}

// retire ends what was said of coats that are followed no more, or that a touch
// test has refuted since.
func (r *Room) retire(old []*followed) []Effect {
	stays := map[alert.Key]bool{}
	for _, j := range r.jobs {
		for _, key := range r.readyKeys(j) {
			stays[key] = true
		}
	}
	return r.notify(r.cfg.Engine.RetireWhere(func(key alert.Key) bool {
		coat, _, _ := strings.Cut(key.Subject, "/")
		if stays[key] || !follows(old, coat) {
			return false
		}
		ready := r.ready(&followed{Job: Job{ID: coat}}, drying.Estimate{}).Key.Rule
		return key.Rule == ready || !follows(r.jobs, coat)
	}, r.now))
}

func follows(jobs []*followed, coat string) bool {
	for _, j := range jobs {
		if j.ID == coat {
			return true
		}
	}
	return false
}

func (r *Room) readyKeys(j *followed) []alert.Key {
	keys := make([]alert.Key, len(told))
	for i, stage := range told {
		keys[i] = r.ready(j, drying.Estimate{Stage: stage}).Key
	}
	return keys
}

func (j Job) film() alert.Film { return alert.Film{Piece: j.Piece, Part: j.Part} }
