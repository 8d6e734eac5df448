package hub

import (
	"context"

	"recoat/internal/alert"
)

// decisions are transitions with the messages they call for, waiting to be
// recorded.
type decisions struct {
	transitions []alert.Transition
	messages    []alert.Message
}

// route takes up what an earlier run held back, or had escalated.
func (h *Hub) route(ctx context.Context) error {
	standing, err := h.opt.Decisions.Standing(ctx)
	if err != nil {
		return err
	}
	h.router, err = alert.NewRouter(alert.RouterConfig{
		Channels: h.opt.Channels, Second: h.opt.Second, After: h.opt.EscalateAfter,
		Quiet: h.opt.Quiet, Zone: h.opt.Location, Resume: standing,
	})
	return err
}

// decide records transitions and their messages in one commit. Where that
// fails they wait, in order, for the next try: what the engine has decided is
// not decided twice in one run.
func (h *Hub) decide(ctx context.Context, transitions []alert.Transition) {
	h.undecided.transitions = append(h.undecided.transitions, transitions...)
	h.undecided.messages = append(h.undecided.messages, h.router.Route(h.opt.Now(), transitions)...)
	if len(h.undecided.transitions) == 0 && len(h.undecided.messages) == 0 {
		return
	}
	if err := h.opt.Decisions.Commit(ctx, h.undecided.transitions, h.undecided.messages); err != nil {
		h.opt.Log.Error("record what to tell, will try again", "error", err)
		return
	}
	h.undecided = decisions{}
}
