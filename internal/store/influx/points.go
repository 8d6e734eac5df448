package influx

import (
	"strconv"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api/write"

	"recoat/internal/store"
	"recoat/sensors"
)

// The measurements, and the field of each that is read back. The others are for
// people who look at the server with tools of their own.
const (
	roundName  = "round"
	rollupName = "rollup"
	dataField  = "data"
	movedAway  = "0" // data of a round that is elsewhere now; an empty text would come back as none
)

// roundPoint is a round as the server keeps it. A round that moved elsewhere
// leaves one whose data says so.
func roundPoint(room string, r sensors.Round, moved bool) *write.Point {
	tags := map[string]string{"room": escape(room), "node": escape(r.Node), "boot": bootTag(r.Boot)}
	if r.Boot != "" {
		tags["span"] = strconv.FormatUint(spanOf(r.Seq), 10)
	}
	fields := map[string]any{dataField: movedAway}
	if !moved {
		fields[dataField] = encode(r)
		for _, x := range r.Readings {
			if x.Quality == sensors.Good {
				fields[x.Channel.String()] = x.Value
			}
		}
	}
	return write.NewPoint(roundName, tags, fields, stamp(r))
}

// series of rollups: channel and width are tags.
func rollupPoint(s store.Series, width time.Duration, start int64, t store.Tally) *write.Point {
	tags := map[string]string{
		"room": escape(s.Room), "node": escape(s.Node), "channel": escape(s.Channel.String()), "minutes": minutes(width),
	}
	fields := map[string]any{dataField: encodeTally(t)}
	if x := t.Rollup(time.Time{}, s.Channel.Quantity); x.Good > 0 {
		mean, _ := x.Mean()
		fields["mean"], fields["min"], fields["max"] = mean, x.Min, x.Max
	}
	return write.NewPoint(rollupName, tags, fields, time.UnixMilli(start).UTC())
}

func minutes(width time.Duration) string { return strconv.Itoa(int(width / time.Minute)) }
