package simroom

import (
	"testing"
	"time"
)

// Over a year of days the door is opened as often, and stands open as long,
// and the room is worked in on as many days, as was asked.
func TestCrewKeepsItsHabits(t *testing.T) {
	w := Work{
		Days: [7]float64{0, 1, 1, 1, 1, 1, 0.5},
		From: 8 * time.Hour, Until: 17 * time.Hour, Spread: 30 * time.Minute,
		Openings: 4, Open: 2 * time.Minute,
	}
	c := newCrew(w, stream(9, 2))
	var worked, openings, doorSteps, early int
	occupiedSteps, wasOpen := 0, false
	days := map[int]bool{}
	for n := range 365 * int(day/subStep) {
		now := start.Add(time.Duration(n) * subStep)
		occupied, open := c.step(now, subStep)
		if occupied {
			occupiedSteps++
			days[now.YearDay()] = true
			if now.Weekday() == time.Sunday || timeOfDay(now) < 7*time.Hour+30*time.Minute {
				early++
			}
		}
		if open {
			doorSteps++
		}
		if open && !wasOpen {
			openings++
		}
		wasOpen = open
	}
	worked = len(days)
	hours := float64(occupiedSteps) * subStep.Hours()
	near(t, "days worked", float64(worked), 365*5.5/7, 12)
	near(t, "hours in a day worked", hours/float64(worked), 9, 0.1)
	// An opening that lasts is time in which there can be no other: 4 an hour
	// of 2 min leave 52 min of 60, and the last step of each counts whole.
	near(t, "openings in an hour", float64(openings)/hours, 4/(1+4*2./60), 0.15)
	near(t, "minutes of an opening", float64(doorSteps)*subStep.Minutes()/float64(openings), 2+subStep.Minutes()/2, 0.12)
	if early > 0 {
		t.Errorf("somebody came on a Sunday or before 07:30, %d steps long", early)
	}
}
