package dashboards

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"recoat/internal/shop"
	"recoat/sensors"
	"recoat/sensors/calibration"
)

// Checks are checks of sensors with salt or ice.
type Checks interface {
	Sensors(ctx context.Context) ([]Sensor, error)
	// Look says how far a check has come; Keep records it.
	Look(ctx context.Context, c Check, now time.Time) (CheckState, error)
	Keep(ctx context.Context, c Check, now time.Time) (shop.Calibration, error)
}

// Sensor is one channel that can be checked. Check is the newest that holds; nil:
// none.
type Sensor struct {
	Room, Node string
	Channel    sensors.Channel
	Last       time.Time // newest reading
	Check      *shop.Calibration
}

// Check is a check under way: one point or two.
type Check struct {
	Room, Node string
	Channel    sensors.Channel
	Points     []CheckPoint
	Who        string
	Due        time.Time
}

// CheckPoint is the time that the sensor was with one salt, or in ice. To is zero
// while it still is.
type CheckPoint struct {
	Salt     string // empty: ice
	From, To time.Time
}

// PointState is how far one point has come. Truth is what the sensor should
// have read.
type PointState struct {
	CheckPoint
	calibration.Progress
	Truth float64
}

// CheckState is how far a check has come. Fit is nil until all points have come
// to rest; Why says what is wrong with them together.
type CheckState struct {
	Points []PointState
	Fit    *calibration.Fit
	Why    string
}

func (s *server) checkRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /sensors", s.sensors)
	mux.HandleFunc("GET /sensors/{room}/{node}/{channel}/check", s.check)
	mux.HandleFunc("POST /sensors/{room}/{node}/{channel}/check", s.keepCheck)
}

type sensorLine struct {
	Name, Room, Href, Checked, Due string
	Overdue                        bool
}

func (s *server) sensors(w http.ResponseWriter, r *http.Request) {
	all, err := s.checks.Sensors(r.Context())
	if err != nil {
		s.cannotRead(w, "list the sensors", err)
		return
	}
	now, rooms := s.now(), s.house.Snapshots()
	var lines []sensorLine
	for _, x := range all {
		l := sensorLine{Name: x.Node + ": " + channelWords(x.Channel), Room: roomNamed(rooms, x.Room), Href: checkHref(x.Room, x.Node, x.Channel)}
		if k := x.Check; k != nil {
			l.Checked = fmt.Sprintf("Checked %s by %s (%s): corrected by %s, standard uncertainty %.2f %s.", s.day(k.From), k.Who, methodName(k.Method), correction(k.Calibration), k.Sigma, differenceUnit(x.Channel))
			l.Due, l.Overdue = "Next check due "+s.day(k.Due)+".", now.After(k.Due)
		}
		lines = append(lines, l)
	}
	s.show(w, r, http.StatusOK, shown{"Sensors", "Sensors", "sensors", lines})
}

func (s *server) day(t time.Time) string { return t.In(s.words.location).Format("2 Jan 2006") }

func checkHref(room, node string, c sensors.Channel) string {
	return "/sensors/" + url.PathEscape(room) + "/" + url.PathEscape(node) + "/" + url.PathEscape(c.String()) + "/check"
}

func methodName(m calibration.Method) string {
	return map[calibration.Method]string{calibration.SaltOne: "one salt", calibration.SaltTwo: "two salts", calibration.IcePoint: "ice point", calibration.Comparison: "comparison"}[m]
}

func correction(c calibration.Calibration) string {
	text := number(c.Offset, 2) + " " + differenceUnit(c.Channel)
	if c.Offset > 0 {
		text = "+" + text
	}
	if c.Gain != 1 {
		text = "× " + number(c.Gain, 3) + ", then " + text
	}
	return text
}

func differenceUnit(c sensors.Channel) string {
	if c.Quantity == sensors.AirHumidity {
		return "% RH"
	}
	return "K"
}

// checkView is the guided check, one step at a time.
type checkView struct {
	Name, Href, Unit string
	Ice              bool
	Salts            []calibration.Salt
	State            CheckState
	Hidden           []hidden // what the next step needs to know
	Waiting          bool
	Second           bool // a second salt can follow
	Fit              string
	Wrong            string
	Who              string
}

type hidden struct{ Name, Value string }

// checkOf reads a check out of a form or an address. Times are seconds since
// 1970; "now" is the instant of the request.
func (s *server) checkOf(r *http.Request, form url.Values) (Check, error) {
	channel, err := sensors.ParseChannel(r.PathValue("channel"))
	if err != nil || !calibration.Calibratable(channel.Quantity) {
		return Check{}, shop.ErrNotFound
	}
	c := Check{Room: r.PathValue("room"), Node: r.PathValue("node"), Channel: channel, Who: form.Get("who")}
	for _, n := range []string{"1", "2"} {
		from, ok := s.instant(form.Get("from" + n))
		if !ok {
			break
		}
		p := CheckPoint{Salt: form.Get("salt" + n), From: from}
		p.To, _ = s.instant(form.Get("to" + n))
		c.Points = append(c.Points, p)
	}
	return c, nil
}

func (s *server) instant(text string) (time.Time, bool) {
	if text == "now" {
		return s.now().Truncate(time.Second), true
	}
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < 1 || n > 1<<33 {
		return time.Time{}, false
	}
	return time.Unix(n, 0).UTC(), true
}

func (s *server) check(w http.ResponseWriter, r *http.Request) {
	s.showCheck(w, r, http.StatusOK, r.URL.Query(), "")
}

func (s *server) showCheck(w http.ResponseWriter, r *http.Request, status int, form url.Values, wrong string) {
	c, err := s.checkOf(r, form)
	if err != nil {
		s.notFound(w, r)
		return
	}
	v := checkView{
		Name: c.Node + ": " + channelWords(c.Channel), Href: checkHref(c.Room, c.Node, c.Channel), Unit: differenceUnit(c.Channel),
		Ice: c.Channel.Quantity != sensors.AirHumidity, Salts: calibration.Salts(), Wrong: wrong, Who: c.Who,
	}
	if len(c.Points) > 0 {
		if v.State, err = s.checks.Look(r.Context(), c, s.now()); err != nil {
			var input *shop.InputError
			if !errors.As(err, &input) {
				s.cannotRead(w, "look at a check", err)
				return
			}
			v.Wrong = sentence(err.Error())
		}
	}
	v.hide(c)
	for _, p := range v.State.Points {
		v.Waiting = v.Waiting || !p.Steady
	}
	v.Second = !v.Ice && len(c.Points) == 1 && v.State.Fit != nil
	if f := v.State.Fit; f != nil {
		v.Fit = fmt.Sprintf("corrected by %s, standard uncertainty %.2f %s", correction(calibration.Calibration{Channel: c.Channel, Gain: f.Gain, Offset: f.Offset}), f.Sigma, v.Unit)
	}
	s.show(w, r, status, shown{"Check a sensor", "Sensors", "check", v})
}

// hide keeps the points for the next step. One that has come to rest ends there.
func (v *checkView) hide(c Check) {
	for i, p := range c.Points {
		n := strconv.Itoa(i + 1)
		v.Hidden = append(v.Hidden, hidden{"salt" + n, p.Salt}, hidden{"from" + n, strconv.FormatInt(p.From.Unix(), 10)})
		switch {
		case !p.To.IsZero():
			v.Hidden = append(v.Hidden, hidden{"to" + n, strconv.FormatInt(p.To.Unix(), 10)})
		case i < len(v.State.Points) && v.State.Points[i].Steady:
			v.Hidden = append(v.Hidden, hidden{"to" + n, "now"})
		}
	}
}

func (s *server) keepCheck(w http.ResponseWriter, r *http.Request) {
	a, err := readForm(w, r, maxForm)
	if err != nil {
		s.tooLong(w)
		return
	}
	c, err := s.checkOf(r, a.given)
	if err != nil {
		s.notFound(w, r)
		return
	}
	now := s.now()
	c.Due = now.AddDate(1, 0, 0)
	ctx, _ := s.tapped(r, a)
	if _, err := s.checks.Keep(ctx, c, now); err != nil {
		var input *shop.InputError
		if errors.As(err, &input) {
			s.showCheck(w, r, http.StatusUnprocessableEntity, a.given, sentence(err.Error()))
			return
		}
		s.cannotRead(w, "keep a check", err)
		return
	}
	http.Redirect(w, r, "/sensors?noted=check", http.StatusSeeOther)
}
