// Package follow says where a coat stands from what the store kept of its
// room, for whoever asks without a hub that follows it: the shell, a piece that
// has left the room, a card for its buyer.
package follow
