package influx

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// administration plays the part of a server of version 2 that knows of buckets,
// after its published API (InfluxDB OSS v2 API: GetOrgs, GetBuckets, PostBuckets,
// PatchBucketsID).
type administration struct {
	t      *testing.T
	held   string // the bucket that is there
	denied int    // the status of every answer; 0: as asked
	did    []string
}

func (a *administration) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if got := r.Header.Get("Authorization"); got != "Token key" {
		a.t.Errorf("authorised by %q", got)
	}
	w.Header().Set("Content-Type", "application/json")
	body, _ := io.ReadAll(r.Body)
	answer := `{"id":"b9"}`
	switch ask := r.Method + " " + r.URL.Path; {
	case a.denied != 0:
		w.WriteHeader(a.denied)
		answer = `{"code":"unauthorized","message":"no such key"}`
	case ask == "GET /api/v2/orgs":
		answer = `{"orgs":[{"id":"o1","name":"` + r.URL.Query().Get("org") + `"}]}`
	case ask == "GET /api/v2/buckets" && r.URL.Query().Get("name") != a.held:
		w.WriteHeader(http.StatusNotFound)
		answer = `{"code":"not found","message":"bucket not found"}`
	case ask == "GET /api/v2/buckets":
		answer = `{"buckets":[{"id":"b7"}]}`
	default:
		if !json.Valid(body) {
			a.t.Errorf("%s says %q", ask, body)
		}
		a.did = append(a.did, ask+" "+string(body))
	}
	_, _ = io.WriteString(w, answer)
}

func (a *administration) prepare(t *testing.T) error {
	server := httptest.NewServer(a)
	defer server.Close()
	return Prepare(t.Context(), Config{
		URL: server.URL, Org: "a shop & co", Token: "key", Readings: "readings", Rollups: "rollups", Queue: filepath.Join(t.TempDir(), "queue.db"),
	}, 48*time.Hour)
}

// The bucket that is there is given its retention, and the other is made.
func TestPrepareASecondVersion(t *testing.T) {
	a := &administration{t: t, held: "readings"}
	if err := a.prepare(t); err != nil {
		t.Fatal(err)
	}
	slices.Sort(a.did)
	want := []string{
		`PATCH /api/v2/buckets/b7 {"retentionRules":[{"everySeconds":172800}]}`,
		`POST /api/v2/buckets {"orgID":"o1","name":"rollups","retentionRules":[{"everySeconds":0}]}`,
	}
	if !slices.Equal(a.did, want) {
		t.Errorf("asked for %q, want %q", a.did, want)
	}
}

// Who is not admitted is told so, with the organisation it was about.
func TestPrepareSaysWhyItWasRefused(t *testing.T) {
	a := &administration{t: t, denied: http.StatusUnauthorized}
	if err := a.prepare(t); err == nil || !strings.Contains(err.Error(), "a shop & co") || !strings.Contains(err.Error(), "no such key") {
		t.Errorf("said %v", err)
	}
}
