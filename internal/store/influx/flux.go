package influx

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api"
	"github.com/influxdata/influxdb-client-go/v2/api/query"

	"recoat/internal/store"
)

// ask is a question in Flux, built of times, numbers and escaped names alone.
type ask struct {
	bucket      string
	measurement string
	from, to    time.Time
	tags        []tag
	keep        []string // columns beside _time and _value
	tail        string   // one of the constants below
}

// tag is one that must be as said. The value is escaped already.
type tag struct{ name, value string }

const (
	inOrder  = ` |> group() |> sort(columns: ["_time"])`
	earliest = ` |> first()`
	newest   = ` |> last()`
)

// String returns the Flux. The bucket comes from the configuration, not from
// the network, and is quoted all the same.
func (a ask) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, `from(bucket: %s) |> range(start: %s, stop: %s)`, quote(a.bucket), fluxTime(a.from), fluxTime(a.to))
	fmt.Fprintf(&b, ` |> filter(fn: (r) => r._measurement == %s and r._field == %s`, quote(a.measurement), quote(dataField))
	for _, t := range a.tags {
		fmt.Fprintf(&b, ` and r[%s] == %s`, quote(t.name), quote(t.value))
	}
	b.WriteString(")")
	if a.tail != inOrder {
		b.WriteString(a.tail)
	}
	b.WriteString(` |> keep(columns: ["_time", "_value"`)
	for _, k := range a.keep {
		b.WriteString(", " + quote(k))
	}
	b.WriteString("])")
	if a.tail == inOrder {
		b.WriteString(a.tail)
	}
	return b.String()
}

var unquotable = strings.NewReplacer(`\`, `\\`, `"`, `\"`, `${`, `\${`)

func quote(s string) string { return `"` + unquotable.Replace(s) + `"` }

func fluxTime(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000000000Z") }

// rows asks and calls each with every row.
func (s *Store) rows(ctx context.Context, a ask, each func(*query.FluxRecord) error) error {
	result, err := s.server.query(ctx, a.String())
	if err != nil {
		return explain(ctx, err)
	}
	defer func() { _ = result.Close() }()
	if err := readAnswer(result, a.to, each); err != nil {
		return explain(ctx, err)
	}
	return ctx.Err()
}

// readAnswer calls each with every row of an answer that is before to: a server
// of version 1.8 takes the stop for a part of the range.
func readAnswer(result *api.QueryTableResult, to time.Time, each func(*query.FluxRecord) error) error {
	for result.Next() {
		// The client has no row for an annotation that it does not know.
		row := result.Record()
		if row == nil {
			return fmt.Errorf("%w: the server's answer begins with no row", store.ErrDamaged)
		}
		if _, ok := row.ValueByKey("_time").(time.Time); !ok {
			return fmt.Errorf("%w: the server's answer has no _time", store.ErrDamaged)
		}
		if !row.Time().Before(to) {
			continue
		}
		if err := each(row); err != nil {
			return err
		}
	}
	return result.Err()
}

// explain gives the reason for which ctx ended before that of the request.
func explain(ctx context.Context, err error) error {
	if err != nil && ctx.Err() != nil {
		return ctx.Err()
	}
	return err
}

// text is a column that must be there.
func text(r *query.FluxRecord, column string) (string, error) {
	v, ok := r.ValueByKey(column).(string)
	if !ok {
		return "", fmt.Errorf("%w: the server's answer has no %s", store.ErrDamaged, column)
	}
	return v, nil
}

// name is a column that holds an escaped name.
func name(r *query.FluxRecord, column string) (string, error) {
	v, err := text(r, column)
	if err != nil {
		return "", err
	}
	return unescape(v)
}
