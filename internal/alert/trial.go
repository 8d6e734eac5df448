package alert

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"time"
)

// Trial is what came of a test message.
type Trial struct {
	Channel string
	At      time.Time
	Took    time.Duration
	Failed  string // why, without secrets; empty: the channel took it
}

// ErrNoChannel says that no channel of a name is configured.
var ErrNoChannel = errors.New("no such channel is configured")

// TrialMessage is what a test sends. The location of now is used for the time.
func TrialMessage(channel string, now time.Time) Message {
	sum := sha256.Sum256(fmt.Appendf(nil, "trial %q %d", channel, now.UnixNano()))
	return Message{
		ID: hex.EncodeToString(sum[:16]), Key: Key{Rule: ruleTrial}, Cause: Tested, Channel: channel,
		Title: titleTrial, Body: fmt.Sprintf(bodyTrial, clock(now, now)), At: now,
	}
}

// TryChannel sends a test message through one channel, once, and says what came
// of it. It takes at most as long as a try of any message.
func TryChannel(ctx context.Context, c Channel, now func() time.Time) Trial {
	began := now()
	ctx, cancel := context.WithTimeout(ctx, sendDeadline)
	defer cancel()
	err := c.Send(ctx, TrialMessage(c.Name(), began))
	t := Trial{Channel: c.Name(), At: began, Took: max(now().Sub(began), 0)}
	if err != nil {
		t.Failed = err.Error()
	}
	return t
}

// Try does so with one of the courier's channels and keeps the result.
func (c *Courier) Try(ctx context.Context, channel string) (Trial, error) {
	way := c.ways[channel]
	if way == nil {
		return Trial{}, fmt.Errorf("try %q: %w", channel, ErrNoChannel)
	}
	if !way.take(ctx) {
		return Trial{}, fmt.Errorf("try %q: %w", channel, ctx.Err())
	}
	defer way.leave()
	t := TryChannel(ctx, way.Channel, c.now)
	_, err := c.outbox.db.Write.ExecContext(ctx, `INSERT INTO trial(channel, at, took, failed) VALUES (?,?,?,?)
		ON CONFLICT(channel) DO UPDATE SET at=excluded.at, took=excluded.took, failed=excluded.failed`,
		t.Channel, millis(t.At), t.Took.Milliseconds(), t.Failed)
	if err != nil {
		return t, fmt.Errorf("keep what came of a test: %w", err)
	}
	return t, nil
}

// way is a channel that is used by one at a time.
type way struct {
	Channel
	free chan struct{}
}

func newWay(c Channel) *way { return &way{Channel: c, free: make(chan struct{}, 1)} }

func (w *way) take(ctx context.Context) bool {
	select {
	case w.free <- struct{}{}:
		return true
	case <-ctx.Done():
		return false
	}
}

func (w *way) leave() { <-w.free }

// ChannelState is what became of the messages of one channel.
type ChannelState struct {
	Channel string
	Sent    time.Time // when it last took a message; zero: never
	Title   string    // of that message
	Waiting uint32    // messages not taken yet
	Why     string    // why the last try of one of those failed, without secrets
	Trial   *Trial    // the last test; nil: none
}

// ChannelStates returns one state for each of the names, in their order.
func (o *Outbox) ChannelStates(ctx context.Context, names []string) ([]ChannelState, error) {
	all := make([]ChannelState, len(names))
	for i, name := range names {
		var err error
		if all[i], err = o.channelState(ctx, name); err != nil {
			return nil, fmt.Errorf("read the outbox: %w", err)
		}
	}
	return all, nil
}

func (o *Outbox) channelState(ctx context.Context, name string) (ChannelState, error) {
	s := ChannelState{Channel: name}
	var sent sql.NullInt64
	var title, why sql.NullString
	var at, took sql.NullInt64
	var failed sql.NullString
	err := o.db.Read.QueryRowContext(ctx, `SELECT
		(SELECT count(*) FROM message WHERE channel=?1 AND status IN (0, 1, 3)),
		(SELECT note FROM message WHERE channel=?1 AND status=3 ORDER BY changed DESC LIMIT 1),
		last.changed, last.title, t.at, t.took, t.failed
		FROM (SELECT 1) LEFT JOIN (SELECT changed, title FROM message WHERE channel=?1 AND status=2 ORDER BY changed DESC LIMIT 1) last
		LEFT JOIN trial t ON t.channel=?1`, name).Scan(&s.Waiting, &why, &sent, &title, &at, &took, &failed)
	s.Sent, s.Title, s.Why = fromMillis(sent.Int64), title.String, why.String
	if at.Valid {
		s.Trial = &Trial{Channel: name, At: fromMillis(at.Int64), Took: time.Duration(took.Int64) * time.Millisecond, Failed: failed.String}
	}
	return s, err
}

// Held returns the messages that wait for quiet hours to end or for a silent
// node to be back, in the order of the decisions.
func (o *Outbox) Held(ctx context.Context) ([]Message, error) {
	rows, err := o.db.Read.QueryContext(ctx, `SELECT `+messageColumns+` FROM message m WHERE status=5 ORDER BY seq`)
	return collect(rows, err, scanMessage)
}
