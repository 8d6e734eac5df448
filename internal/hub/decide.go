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

// decide records transitions and their messages in one commit. Where that
// fails they wait, in order, for the next try: what the engine has decided is
// not decided twice in one run.
func (h *Hub) decide(ctx context.Context, transitions []alert.Transition) {
	h.undecided.transitions = append(h.undecided.transitions, transitions...)
	h.undecided.messages = append(h.undecided.messages, alert.Compose(transitions, h.opt.Channels)...)
	if len(h.undecided.transitions) == 0 {
		return
	}
	if err := h.opt.Decisions.Commit(ctx, h.undecided.transitions, h.undecided.messages); err != nil {
		h.opt.Log.Error("record what to tell, will try again", "error", err)
		return
	}
	h.undecided = decisions{}
}
