package telemetry

import (
	"context"
)

// ackGroup is what one acknowledgement can speak of.
type ackGroup struct {
	topic    string
	boot     string
	clockSet bool
}

// acknowledge publishes what became durable, all that waits in as few
// publications as it takes.
func (r *Receiver) acknowledge(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case first := <-r.acks:
			for group, seqs := range r.gather(first) {
				r.publishReceipts(group, seqs)
			}
		}
	}
}

func (r *Receiver) gather(a ack) map[ackGroup][]uint64 {
	groups := map[ackGroup][]uint64{}
	for range ackQueue {
		group := ackGroup{a.topic, a.boot, a.clockSet}
		groups[group] = append(groups[group], a.seq)
		select {
		case a = <-r.acks:
		default:
			return groups
		}
	}
	return groups
}

// publishReceipts does nothing while the broker is away: rounds that are not
// acknowledged come again.
func (r *Receiver) publishReceipts(group ackGroup, seqs []uint64) {
	spans := spansOf(seqs)
	for len(spans) > 0 && r.line.open() {
		n := min(len(spans), MaxSpans)
		payload, err := Receipt{Boot: group.boot, ClockSet: group.clockSet, Spans: spans[:n]}.Encode()
		if err != nil {
			r.cfg.Log.Error("acknowledgement cannot be sent", "topic", group.topic, "reason", err)
			return
		}
		if err := r.line.publish(group.topic, payload); err != nil {
			r.cfg.Log.Error("acknowledgement cannot be sent", "topic", group.topic, "reason", err)
			return
		}
		for _, s := range spans[:n] {
			r.acknowledged.Add(int64(s.Last - s.First + 1))
		}
		spans = spans[n:]
	}
}
