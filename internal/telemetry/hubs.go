package telemetry

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"sync"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// HearClaims connects to a broker once, as who asks, and returns the claims of
// hubs that it hears in that time, by name. It claims nothing.
func HearClaims(ctx context.Context, l Link, who string, patience time.Duration) ([]Claim, error) {
	if err := l.check(); err != nil {
		return nil, err
	}
	client, err := visit(ctx, l, who, patience)
	if err != nil {
		return nil, err
	}
	defer client.Disconnect(disconnectMilli)
	var mu sync.Mutex
	heard := map[claimKey]Claim{}
	take := func(_ mqtt.Client, m mqtt.Message) {
		c, err := DecodeClaim(m.Payload())
		if err != nil || c.Gone || m.Topic() != ClaimTopic(c.Hub) {
			return // a hub that hears what is no claim says so in its log
		}
		mu.Lock()
		defer mu.Unlock()
		if len(heard) < maxHubs {
			heard[claimKey{c.Hub, c.Instance}] = c
		}
	}
	if err := subscribe(ctx, client, take, ClaimTopic("+")); err != nil {
		return nil, fmt.Errorf("hear the claims of hubs: %w", err)
	}
	select {
	case <-ctx.Done():
		return nil, fmt.Errorf("hear the claims of hubs: %w", ctx.Err())
	case <-time.After(patience):
	}
	mu.Lock()
	defer mu.Unlock()
	var all []Claim
	for _, c := range heard {
		all = append(all, c)
	}
	slices.SortFunc(all, func(a, b Claim) int { return cmp.Or(cmp.Compare(a.Hub, b.Hub), cmp.Compare(a.Instance, b.Instance)) })
	return all, nil
}
