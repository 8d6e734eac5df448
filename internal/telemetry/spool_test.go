package telemetry

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/sensors"
)

func openSpool(t *testing.T, path, boot string, maxBytes int64) *Spool {
	t.Helper()
	s, err := OpenSpool(t.Context(), SpoolConfig{Path: path, Node: "bench", Boot: boot, MaxBytes: maxBytes})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	return s
}

func newSpool(t *testing.T) *Spool {
	t.Helper()
	return openSpool(t, filepath.Join(t.TempDir(), "spool.db"), bootA, 1<<20)
}

func appendRounds(t *testing.T, s *Spool, rounds ...sensors.Round) {
	t.Helper()
	for _, r := range rounds {
		if err := s.Append(t.Context(), r); err != nil {
			t.Fatal(err)
		}
	}
}

func settle(t *testing.T, s *Spool, boot string, clockSet bool, spans ...Span) {
	t.Helper()
	if err := s.Settle(t.Context(), Receipt{Boot: boot, ClockSet: clockSet, Spans: spans}); err != nil {
		t.Fatal(err)
	}
}

// pending reads the whole spool, two rounds at a time.
func pending(t *testing.T, s *Spool) []sensors.Round {
	t.Helper()
	var all []sensors.Round
	for at := (Place{}); ; {
		entries, err := s.Pending(t.Context(), at, 2)
		if err != nil {
			t.Fatal(err)
		}
		if len(entries) == 0 {
			return all
		}
		for _, e := range entries {
			at, all = e.Place, append(all, e.Round)
		}
	}
}

func sequence(rounds []sensors.Round) (seqs []uint64) {
	for _, r := range rounds {
		seqs = append(seqs, r.Seq)
	}
	return seqs
}

func unset(r sensors.Round) sensors.Round {
	r.ClockSet = false
	return r
}

func stats(t *testing.T, s *Spool) SpoolStats {
	t.Helper()
	st, err := s.Stats(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return st
}

func TestTheSpoolKeepsRoundsOverARestartAndCountsOn(t *testing.T) {
	path := filepath.Join(t.TempDir(), "spool.db")
	s := openSpool(t, path, bootA, 1<<20)
	want := []sensors.Round{roundOf(bootA, 1), unset(roundOf(bootA, 2)), roundOf(bootA, 5)}
	want[2].Readings = []sensors.Reading{{Channel: air, Quality: sensors.Missing}}
	appendRounds(t, s, want...)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = openSpool(t, path, bootA, 1<<20)
	if diff := cmp.Diff(want, pending(t, s)); diff != "" {
		t.Error(diff)
	}
	if last, err := s.LastSeq(t.Context()); err != nil || last != 5 {
		t.Errorf("last %d, %v", last, err)
	}
	for _, seq := range []uint64{5, 4} {
		if err := s.Append(t.Context(), roundOf(bootA, seq)); err == nil {
			t.Errorf("sequence number %d was taken twice", seq)
		}
	}
	settle(t, s, bootA, true, Span{1, 5})
	if last, err := s.LastSeq(t.Context()); err != nil || last != 5 {
		t.Errorf("last %d, %v after all was settled", last, err)
	}
}

func TestTheSpoolIsInOrderOfBootsThoughTheClockStepsBack(t *testing.T) {
	path := filepath.Join(t.TempDir(), "spool.db")
	s := openSpool(t, path, bootB, 1<<20) // sorts after bootA by name
	appendRounds(t, s, roundOf(bootB, 1), roundOf(bootB, 2))
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = openSpool(t, path, bootA, 1<<20)
	for seq := range uint64(3) {
		late := roundOf(bootA, seq+1)
		late.Time = late.Time.Add(-24*time.Hour - time.Duration(seq)*time.Minute)
		appendRounds(t, s, late)
	}
	got := pending(t, s)
	if diff := cmp.Diff([]uint64{1, 2, 1, 2, 3}, sequence(got)); diff != "" || got[0].Boot != bootB || got[2].Boot != bootA {
		t.Errorf("%s in %+v", diff, got)
	}
}

func TestOnlyWhatTheReceiptNamesIsLetGo(t *testing.T) {
	s := newSpool(t)
	for seq := range uint64(10) {
		appendRounds(t, s, roundOf(bootA, seq+1))
	}
	settle(t, s, bootB, true, Span{1, 10})  // another boot
	settle(t, s, bootA, false, Span{1, 10}) // another form
	settle(t, s, bootA, true, Span{2, 4}, Span{9, 300})
	if diff := cmp.Diff([]uint64{1, 5, 6, 7, 8}, sequence(pending(t, s))); diff != "" {
		t.Error(diff)
	}
	if err := s.Settle(t.Context(), Receipt{Boot: bootA, Spans: []Span{{4, 2}}}); err == nil {
		t.Error("a span that runs backwards was taken")
	}
}

func TestRoundsWithAnUnsetClockAreHeldUntilTheyAreCorrected(t *testing.T) {
	s := newSpool(t)
	appendRounds(t, s, unset(roundOf(bootA, 1)), unset(roundOf(bootA, 2)), roundOf(bootA, 3))
	settle(t, s, bootA, false, Span{1, 1})
	settle(t, s, bootA, true, Span{1, 3}) // 1 and 2 were never sent in this form
	if st := stats(t, s); st.Pending != 1 || st.Held != 1 {
		t.Fatalf("%+v: want one pending and one held", st)
	}
	wall := time.Date(2026, 6, 1, 20, 0, 0, 0, time.UTC)
	if n, err := s.Correct(t.Context(), wall, 10*time.Minute); err != nil || n != 2 {
		t.Fatalf("%d corrected, %v", n, err)
	}
	settle(t, s, bootA, false, Span{1, 2}) // late, of the form before
	got := pending(t, s)
	if diff := cmp.Diff([]uint64{1, 2}, sequence(got)); diff != "" {
		t.Fatal(diff)
	}
	for _, r := range got {
		if want := wall.Add(r.Uptime - 10*time.Minute); !r.ClockSet || !r.Time.Equal(want) {
			t.Errorf("round %d at %s, set %v: want %s", r.Seq, r.Time, r.ClockSet, want)
		}
	}
	if n, err := s.Correct(t.Context(), wall.Add(time.Hour), 10*time.Minute); err != nil || n != 0 {
		t.Errorf("%d corrected twice, %v", n, err)
	}
	settle(t, s, bootA, true, Span{1, 2})
	if diff := cmp.Diff(SpoolStats{}, stats(t, s)); diff != "" {
		t.Error(diff)
	}
	if _, err := s.Correct(t.Context(), time.Unix(5, 0), 0); err == nil {
		t.Error("1970 was taken for the right time")
	}
}

func TestAnEndedBootIsNeverCorrectedAndNotHeld(t *testing.T) {
	path := filepath.Join(t.TempDir(), "spool.db")
	s := openSpool(t, path, bootA, 1<<20)
	appendRounds(t, s, unset(roundOf(bootA, 1)), unset(roundOf(bootA, 2)))
	settle(t, s, bootA, false, Span{1, 1})
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = openSpool(t, path, bootB, 1<<20)
	if n, err := s.Correct(t.Context(), received, time.Hour); err != nil || n != 0 {
		t.Errorf("%d rounds of an earlier boot corrected, %v", n, err)
	}
	if diff := cmp.Diff([]sensors.Round{unset(roundOf(bootA, 2))}, pending(t, s)); diff != "" {
		t.Error(diff)
	}
	settle(t, s, bootA, false, Span{2, 2})
	if diff := cmp.Diff(SpoolStats{}, stats(t, s)); diff != "" {
		t.Error(diff)
	}
}

func TestAFullSpoolDropsTheOldestAndCountsThem(t *testing.T) {
	path := filepath.Join(t.TempDir(), "spool.db")
	s := openSpool(t, path, bootA, minSpool)
	appendRounds(t, s, unset(roundOf(bootA, 1)), unset(roundOf(bootA, 2)), roundOf(bootA, 3))
	one := stats(t, s).Bytes / 3
	settle(t, s, bootA, false, Span{2, 2})
	last := uint64(minSpool/one) + 20
	for seq := uint64(4); seq <= last; seq++ {
		appendRounds(t, s, roundOf(bootA, seq))
		if b := stats(t, s).Bytes; b > minSpool {
			t.Fatalf("%d bytes after round %d", b, seq)
		}
	}
	st := stats(t, s)
	seqs := sequence(pending(t, s))
	// Round 2, which the hub has, went first and is no loss.
	if st.Held != 0 || st.Dropped == 0 || int64(len(seqs)) != st.Pending || st.Dropped+1+st.Pending != int64(last) {
		t.Fatalf("%+v, %d rounds", st, last)
	}
	for i, seq := range seqs {
		if want := last - uint64(len(seqs)-1-i); seq != want {
			t.Fatalf("round %d in place %d, want %d", seq, i, want)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if again := stats(t, openSpool(t, path, bootA, minSpool)); again != st {
		t.Errorf("%+v after a restart, %+v before", again, st)
	}
}

func TestTheSpoolRefusesWhatIsNotItsOwn(t *testing.T) {
	s := newSpool(t)
	other := roundOf(bootA, 1)
	other.Node = "shelf"
	wild := roundOf(bootA, 1)
	wild.Readings[0].Value = 5000
	past := roundOf(bootA, 1)
	past.Time = time.Unix(60, 0)
	for _, r := range []sensors.Round{other, wild, past, roundOf(bootB, 1), roundOf(bootA, 0)} {
		if err := s.Append(t.Context(), r); err == nil {
			t.Errorf("took %+v", r)
		}
	}
	path := filepath.Join(t.TempDir(), "x.db")
	for _, cfg := range []SpoolConfig{
		{Path: path, Node: "bench", Boot: "", MaxBytes: 1 << 20}, {Path: path, Node: "Bench", Boot: bootA, MaxBytes: 1 << 20},
		{Path: path, Node: "bench", Boot: bootA, MaxBytes: 10},
	} {
		if _, err := OpenSpool(t.Context(), cfg); err == nil {
			t.Errorf("opened %+v", cfg)
		}
	}
}
