package influx

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"

	"github.com/influxdata/influxdb-client-go/v2/api"
	"github.com/influxdata/influxdb-client-go/v2/api/query"

	"recoat/internal/store"
	"recoat/sensors"
)

// answerOf is annotated CSV as a server sends it (its documentation, "Annotated
// CSV"), of one row.
func answerOf(value string) string {
	return strings.ReplaceAll("#datatype,string,long,dateTime:RFC3339,string,string,string\n#group,false,false,false,false,true,true\n#default,_result,,,,,\n"+
		",result,table,_time,_value,node,boot\n,,0,2031-02-03T18:00:00Z,\""+value+"\",bench,b1\n", "\n", "\r\n")
}

// Whatever a server answers, it gives rounds that go back as they came, or an
// error: never a panic, and never a round from nowhere.
func FuzzAnswer(f *testing.F) {
	f.Add([]byte(answerOf("1 7 90000 1 air-temperature=20500")))
	f.Add([]byte(answerOf(movedAway)))
	f.Add([]byte("#unknown,x\r\n,a\r\n"))
	f.Add([]byte("#datatype,string\r\n,error\r\n,failed,897\r\n"))
	f.Add([]byte(strings.Replace(answerOf("1 7 90000 1"), "_time", "time", 1)))
	f.Fuzz(func(t *testing.T, answer []byte) {
		to := dusk.AddDate(1, 0, 0)
		result := api.NewQueryTableResult(io.NopCloser(bytes.NewReader(answer)))
		// Any error will do.
		_ = readAnswer(result, to, func(row *query.FluxRecord) error {
			r, live, err := roundOf(row)
			if err != nil {
				if !errors.Is(err, store.ErrDamaged) {
					t.Fatalf("not said to be damaged: %v", err)
				}
				return err
			}
			if !live {
				return nil
			}
			if r.Time.IsZero() || !r.Time.Before(to) {
				t.Fatalf("a round at %v", r.Time)
			}
			back := sensors.Round{Node: r.Node, Boot: r.Boot, Time: r.Time}
			if err := decode(&back, encode(r)); err != nil || encode(back) != encode(r) {
				t.Fatalf("%q came back as %q, %v", encode(r), encode(back), err)
			}
			return nil
		})
	})
}
