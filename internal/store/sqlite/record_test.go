package sqlite

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/internal/store"
	"recoat/sensors"
)

// TestFormat reads, with plain SQL, what FORMAT.md says is in the file. The
// packed values are worked out by hand after the page "Encoding" of the
// Protocol Buffers documentation: a signed value n becomes 2n, or -2n-1 below
// zero, and goes out in groups of seven bits, lowest first, the top bit set on
// all but the last.
func TestFormat(t *testing.T) {
	s := openNew(t)
	surface := sensors.Channel{Quantity: sensors.SurfaceTemperature, Probe: "28-0a"}
	r := sensors.Round{
		Node: "bench", Boot: "4a7c", Seq: 7, Time: time.UnixMilli(1927908000250), Uptime: 90 * time.Second, ClockSet: true,
		Readings: []sensors.Reading{
			{Channel: sensors.Channel{Quantity: sensors.AirTemperature}, Value: 0.075}, // 75: 150 = 0x96 0x01
			{Channel: sensors.Channel{Quantity: sensors.AirHumidity}, Value: 0.01},     // 1: 2
			{Channel: surface, Value: -0.001},                                          // -1: 1
		},
	}
	second := r
	second.Seq, second.ClockSet = 8, false
	second.Readings = []sensors.Reading{
		{Channel: r.Readings[0].Channel, Quality: sensors.Missing},
		{Channel: r.Readings[1].Channel, Value: 0.01, Quality: sensors.Suspect},
		{Channel: surface, Value: -0.001},
	}
	foreign := sensors.Round{Node: "plug", Time: r.Time, Readings: r.Readings[1:2]}
	if err := s.Append(t.Context(), "attic", []sensors.Round{r, second, foreign}); err != nil {
		t.Fatal(err)
	}
	check := func(query string, want ...string) {
		t.Helper()
		if diff := cmp.Diff(want, table(t, s, query)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", query, diff)
		}
	}
	check(`SELECT id, room, name FROM node`, "1|attic|bench", "2|attic|plug")
	check(`SELECT id, node, name FROM boot`, "1|1|4a7c", "2|2|")
	check(`SELECT id, channels FROM layout`, "1|air-temperature relative-humidity surface-temperature:28-0a", "2|relative-humidity")
	check(`SELECT id, at, hex(data) FROM round`,
		"4398046511111|1927908000250|0101"+"90BF05"+"96010201", // id 1<<42 + 7, 90 000 ms: 0x90 0xBF 0x05
		"4398046511112|1927908000250|0201"+"90BF05"+"0401020001",
		"10724001022458|1927908000250|0002"+"00"+"02") // id 2<<42 + 1927908000250
	check(`SELECT id, lo, hi FROM block`, "4398046511104|1927908000250|1927908000250", "10724000661504|1927908000250|1927908000250")
	check(`SELECT r.width, r.start, s.node, s.channel, r.good, r.other, r.lo, r.hi, r.sum FROM rollup r JOIN series s ON s.id = r.series
		WHERE s.channel <> 'relative-humidity' ORDER BY r.width, s.channel`,
		"10|1927908000000|1|air-temperature|1|1|75|75|75", "10|1927908000000|1|surface-temperature:28-0a|2|0|-1|-1|-2",
		"60|1927908000000|1|air-temperature|1|1|75|75|75", "60|1927908000000|1|surface-temperature:28-0a|2|0|-1|-1|-2")
	check(`SELECT lo, hi FROM rollup WHERE good = 0`)
	check(`PRAGMA application_id`, "1919119921")
	check(`PRAGMA user_version`, "2")
}

// table returns the rows of a query, each with | between its columns.
func table(t *testing.T, s *Store, query string) []string {
	t.Helper()
	rows, err := s.db.Read.Query(query)
	if err != nil {
		t.Fatal(err)
	}
	columns, err := rows.Columns()
	if err != nil {
		t.Fatal(err)
	}
	lines, err := collect(rows, func(row scanner) (line string, err error) {
		cells := make([]any, len(columns))
		into := make([]any, len(columns))
		for i := range cells {
			into[i] = &cells[i]
		}
		err = row.Scan(into...)
		for i, c := range cells {
			if i > 0 {
				line += "|"
			}
			line += fmt.Sprint(c)
		}
		return line, err
	})
	if err != nil {
		t.Fatal(err)
	}
	return lines
}

// FuzzDecode looks for data that makes decode panic, or that reads as
// something which then does not read back.
func FuzzDecode(f *testing.F) {
	channels := []sensors.Channel{{Quantity: sensors.AirTemperature}, {Quantity: sensors.AirHumidity}}
	find := func(layout int64) ([]sensors.Channel, error) { return channels[:min(layout, 2)], nil }
	f.Add([]byte{0x01, 0x02, 0x07, 0x96, 0x01, 0x02})
	f.Add([]byte{0x03, 0x02, 0x00, 0x04, 0x01, 0x02})
	f.Add([]byte{0x00, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0x02})
	f.Fuzz(func(t *testing.T, data []byte) {
		const id = 1<<seqBits + 1
		r, err := record{id: id, data: data}.decode(origin{"bench", "b1"}, find)
		if err != nil {
			return
		}
		if _, err := store.Canonical("attic", []sensors.Round{r}); err != nil {
			t.Fatal(err)
		}
		again, err := record{id: id, data: encode(r, int64(len(r.Readings)))}.decode(origin{"bench", "b1"}, find)
		if diff := cmp.Diff(r, again); err != nil || diff != "" {
			t.Fatal(err, diff)
		}
	})
}
