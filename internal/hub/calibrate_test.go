package hub

import (
	"context"
	"math"
	"testing"
	"testing/synctest"
	"time"

	"recoat/internal/shop"
	"recoat/sensors"
	"recoat/sensors/calibration"
)

func TestACheckCorrectsFromItsDateOnAndTheStoreStaysRaw(t *testing.T) {
	inBubble(t, func(b *bench) {
		top, _ := b.furnish()
		b.apply(top, 0)
		b.minutes(20, 1, 23, 90)
		before := b.room("back-room")
		if before.Air.Humidity != 90 || before.Coats[0].Pace != 0 {
			t.Fatalf("before the check: %v %%, pace %v", before.Air.Humidity, before.Coats[0].Pace)
		}
		check, err := b.journal.AddCalibration(context.Background(), shop.Calibration{Room: "back-room", Calibration: calibration.Calibration{
			Node: round(1, 23, 90).Node, Channel: sensors.Channel{Quantity: sensors.AirHumidity}, From: evening, Gain: 1, Offset: -15, Sigma: 0.8,
			Method: calibration.SaltOne, Who: "A. Finisher", Due: evening.AddDate(1, 0, 0),
		}}, time.Now())
		if err != nil {
			t.Fatal(err)
		}
		time.Sleep(10 * time.Second)
		synctest.Wait()
		b.minutes(2, 21, 23, 90)
		after := b.room("back-room")
		if after.Air.Humidity != 75 || after.Coats[0].Pace == 0 {
			t.Errorf("after the check: %v %%, pace %v", after.Air.Humidity, after.Coats[0].Pace)
		}
		if done := after.Coats[0].Estimates[0].Done; done < 0.9 {
			t.Errorf("the history was not read again: the first stage is done to %v", done)
		}
		if held, ok := b.held("back-room", round(5, 23, 90).Boot, 5); !ok || math.Abs(held.Readings[1].Value-90) > 1e-9 {
			t.Errorf("the store holds %+v", held)
		}
		if err := b.journal.UndoCalibration(context.Background(), check.ID, time.Now()); err != nil {
			t.Fatal(err)
		}
		time.Sleep(10 * time.Second)
		b.minutes(2, 23, 23, 90)
		if s := b.room("back-room"); s.Air.Humidity != 90 {
			t.Errorf("after undoing: %v %%", s.Air.Humidity)
		}
	})
}
