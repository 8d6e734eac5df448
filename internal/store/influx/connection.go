package influx

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api"
	httpapi "github.com/influxdata/influxdb-client-go/v2/api/http"
	"github.com/influxdata/influxdb-client-go/v2/api/write"
)

// connection is that to the server. It is made of the client's parts for writing
// and asking: the client as a whole links every call the server knows, which is
// more than a megabyte of the program.
type connection struct {
	service httpapi.Service
	options *httpapi.Options
	org     string
}

func newConnection(cfg Config) *connection {
	options := httpapi.DefaultOptions().SetHTTPRequestTimeout(requestTimeout)
	authorization := ""
	if cfg.Token != "" {
		authorization = "Token " + cfg.Token
	}
	return &connection{httpapi.NewService(strings.TrimRight(cfg.URL, "/")+"/", authorization, options), options, cfg.Org}
}

// write puts points into a bucket, in one request.
func (c *connection) write(ctx context.Context, bucket string, points ...*write.Point) error {
	options := write.DefaultOptions().SetUseGZip(true).SetPrecision(time.Nanosecond)
	return api.NewWriteAPIBlocking(c.org, bucket, c.service, options).WritePoint(ctx, points...)
}

func (c *connection) query(ctx context.Context, flux string) (*api.QueryTableResult, error) {
	return api.NewQueryAPI(c.org, c.service).Query(ctx, flux)
}

func (c *connection) close() { c.options.HTTPClient().CloseIdleConnections() }

// longestAnswer is of one about organisations or buckets, in bytes.
const longestAnswer = 1 << 20

// call makes one request of administration below /api/v2/, with said as its JSON
// unless it is nil, and fills answer from the JSON that comes back.
func (c *connection) call(ctx context.Context, method, path string, said, answer any) error {
	var body io.Reader = http.NoBody
	if said != nil {
		text, err := json.Marshal(said)
		if err != nil {
			return err
		}
		body = bytes.NewReader(text)
	}
	r, err := http.NewRequestWithContext(ctx, method, c.service.ServerAPIURL()+path, body)
	if err != nil {
		return err
	}
	r.Header.Set("Content-Type", "application/json")
	refused := c.service.DoHTTPRequest(r, nil, func(got *http.Response) error {
		defer func() { _ = got.Body.Close() }()
		if err := json.NewDecoder(io.LimitReader(got.Body, longestAnswer)).Decode(answer); err != nil {
			return fmt.Errorf("the server's answer to %s %s: %w", method, path, err)
		}
		return nil
	})
	if refused != nil { // not returned as it is: a nil of its type is no nil error
		return refused
	}
	return nil
}
