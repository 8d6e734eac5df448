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

	influxdb "github.com/influxdata/influxdb-client-go/v2"
	"github.com/influxdata/influxdb-client-go/v2/domain"
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

// prepareTwo is for a server of version 2.
func prepareTwo(ctx context.Context, cfg Config, keep time.Duration) error {
	client := newClient(cfg)
	defer client.Close()
	org, err := client.OrganizationsAPI().FindOrganizationByName(ctx, cfg.Org)
	if err != nil {
		return fmt.Errorf("organisation %q: %w", cfg.Org, err)
	}
	if err := ensureBucket(ctx, client, org, cfg.Readings, keep); err != nil {
		return err
	}
	return ensureBucket(ctx, client, org, cfg.Rollups, 0)
}

func ensureBucket(ctx context.Context, client influxdb.Client, org *domain.Organization, bucket string, keep time.Duration) error {
	buckets := client.BucketsAPI()
	rule := domain.RetentionRule{EverySeconds: int64(keep.Seconds())}
	if held, err := buckets.FindBucketByName(ctx, bucket); err == nil {
		held.RetentionRules = domain.RetentionRules{rule}
		if _, err := buckets.UpdateBucket(ctx, held); err != nil {
			return fmt.Errorf("bucket %q: %w", bucket, err)
		}
		return nil
	}
	if _, err := buckets.CreateBucketWithName(ctx, org, bucket, rule); err != nil {
		return fmt.Errorf("bucket %q: %w", bucket, err)
	}
	return nil
}
