package hub

import "context"

// keepOwn lets go of rooms that another hub has now, so that each is followed and
// told of by one alone, and takes up again those that came back. What was told of
// them stands in the outbox, and what they measured in the store.
func (h *Hub) keepOwn(ctx context.Context) {
	for name := range h.rooms {
		if !h.opt.Owns(name) {
			delete(h.rooms, name)
			h.left[name] = true
			h.watchers.tell()
		}
	}
	back := false
	for name := range h.left {
		if h.opt.Owns(name) {
			delete(h.left, name)
			back = true
		}
	}
	if !back {
		return
	}
	if err := h.openKnown(ctx); err != nil {
		h.opt.Log.Error("take rooms up again that another hub had", "error", err)
	}
}
