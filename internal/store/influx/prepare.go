package influx

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"time"
)

// Retention is how long rounds are kept on the server. Rollups are kept for
// ever.
const Retention = 400 * 24 * time.Hour

// Prepare makes the buckets that are not there, rounds kept for as long as
// said and rollups for ever, and sets their retention where they are. The token
// has to be one that may do so.
func Prepare(ctx context.Context, cfg Config, keep time.Duration) error {
	if err := cfg.check(); err != nil {
		return fmt.Errorf("prepare InfluxDB: %w", err)
	}
	var err error
	if cfg.Org == "" {
		err = prepareOne(ctx, cfg, keep)
	} else {
		err = prepareTwo(ctx, cfg, keep)
	}
	if err != nil {
		return fmt.Errorf("prepare InfluxDB: %w", err)
	}
	return nil
}

var plainName = regexp.MustCompile(`^[A-Za-z0-9_-]{1,64}$`)

// prepareOne is for a server of version 1: a bucket is a database and a
// retention policy.
func prepareOne(ctx context.Context, cfg Config, keep time.Duration) error {
	for bucket, duration := range map[string]string{cfg.Readings: fmt.Sprintf("%dh", int(keep.Hours())), cfg.Rollups: "INF"} {
		db, policy, found := strings.Cut(bucket, "/")
		if !found || !plainName.MatchString(db) || !plainName.MatchString(policy) {
			return fmt.Errorf("bucket %q: a server of version 1 wants database/policy, of letters, digits, _ and -", bucket)
		}
		if err := statement(ctx, cfg, fmt.Sprintf(`CREATE DATABASE "%s"`, db)); err != nil {
			return err
		}
		create := fmt.Sprintf(`CREATE RETENTION POLICY "%s" ON "%s" DURATION %s REPLICATION 1`, policy, db, duration)
		alter := fmt.Sprintf(`ALTER RETENTION POLICY "%s" ON "%s" DURATION %s REPLICATION 1`, policy, db, duration)
		if err := statement(ctx, cfg, create); err != nil {
			if again := statement(ctx, cfg, alter); again != nil {
				return errors.Join(err, again)
			}
		}
	}
	return nil
}

// statement runs one of administration. A server of version 1 answers 200 with
// the error inside.
func statement(ctx context.Context, cfg Config, q string) error {
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, strings.TrimSuffix(cfg.URL, "/")+"/query", strings.NewReader(url.Values{"q": {q}}.Encode()))
	if err != nil {
		return err
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	user, password, _ := strings.Cut(cfg.Token, ":")
	r.SetBasicAuth(user, password)
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		return err
	}
	defer func() { _ = answer.Body.Close() }()
	body, err := io.ReadAll(io.LimitReader(answer.Body, 4096))
	if err != nil {
		return err
	}
	if answer.StatusCode != http.StatusOK || strings.Contains(string(body), `"error"`) {
		return fmt.Errorf("%s: %s: %s", q, answer.Status, strings.TrimSpace(string(body)))
	}
	return nil
}

// prepareTwo is for a server of version 2 (its API: GET /orgs, GET, POST and
// PATCH /buckets).
func prepareTwo(ctx context.Context, cfg Config, keep time.Duration) error {
	to := newConnection(cfg)
	defer to.close()
	var found struct{ Orgs []identified }
	if err := to.call(ctx, http.MethodGet, "orgs?"+url.Values{"org": {cfg.Org}}.Encode(), nil, &found); err != nil {
		return fmt.Errorf("organisation %q: %w", cfg.Org, err)
	}
	if len(found.Orgs) == 0 {
		return fmt.Errorf("organisation %q: the server has none of this name", cfg.Org)
	}
	for bucket, kept := range map[string]time.Duration{cfg.Readings: keep, cfg.Rollups: 0} {
		if err := to.ensureBucket(ctx, found.Orgs[0].ID, bucket, kept); err != nil {
			return fmt.Errorf("bucket %q: %w", bucket, err)
		}
	}
	return nil
}

// identified is what a server of version 2 says of an organisation or a bucket,
// as far as it matters here.
type identified struct {
	ID string `json:"id"`
}

// retention says for how many seconds a bucket keeps what it holds; 0: for ever.
type retention struct {
	EverySeconds int64 `json:"everySeconds"`
}

// bucketSaid is what a bucket is to be. A change of one leaves out whose it is
// and its name.
type bucketSaid struct {
	Org       string      `json:"orgID,omitempty"`
	Name      string      `json:"name,omitempty"`
	Retention []retention `json:"retentionRules"`
}

// ensureBucket makes a bucket, or sets the retention of the one that is there.
func (c *connection) ensureBucket(ctx context.Context, org, name string, keep time.Duration) error {
	said := bucketSaid{Retention: []retention{{int64(keep.Seconds())}}}
	var held struct{ Buckets []identified }
	var done identified
	// The server answers 404 where there is none, and may say so of a token that
	// must not look; making the bucket then says what is wrong.
	err := c.call(ctx, http.MethodGet, "buckets?"+url.Values{"name": {name}, "orgID": {org}}.Encode(), nil, &held)
	if err == nil && len(held.Buckets) > 0 {
		return c.call(ctx, http.MethodPatch, "buckets/"+url.PathEscape(held.Buckets[0].ID), said, &done)
	}
	said.Org, said.Name = org, name
	return c.call(ctx, http.MethodPost, "buckets", said, &done)
}
