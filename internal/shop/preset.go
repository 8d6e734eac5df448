package shop

import (
	"time"

	"recoat/drying"
)

// Preset returns a product of a kind with what is usual for it written as if a
// label gave it, to be corrected from the label. An empty kind is the family's
// commonest. What is usual is common practice, no source.
func Preset(f drying.Family, kind string) (drying.Product, error) {
	bare := drying.Product{Name: "usual", Family: f, Kind: kind, Stated: drying.Stated{Air: 23, Humidity: 50}}
	bare.Stated.Times[drying.Cured] = 365 * 24 * time.Hour // any: it scales no other stage
	p, err := bare.Complete()
	if err != nil {
		return drying.Product{}, err
	}
	bare.Stated.Times = [drying.StageCount]time.Duration{drying.DryToRecoat: p.Stated.Times[drying.DryToRecoat]}
	if p, err = bare.Complete(); err != nil {
		return drying.Product{}, err
	}
	p.Name, p.Assumed = "Usual "+p.Kind, nil
	return p, nil
}
