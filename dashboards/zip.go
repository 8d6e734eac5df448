package dashboards

import (
	"bytes"
	"compress/gzip"
	"net/http"
	"strings"
)

// zipping wraps each answer's writer with what the asker can unpack.
func zipping(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		next.ServeHTTP(&taker{w, strings.Contains(r.Header.Get("Accept-Encoding"), "gzip")}, r)
	})
}

// taker is a writer that knows whether its asker unpacks gzip.
type taker struct {
	http.ResponseWriter
	zips bool
}

// Unwrap lets http.ResponseController find the writer's deadlines and its flush.
func (t *taker) Unwrap() http.ResponseWriter { return t.ResponseWriter }

// zip never fails: it writes to memory. Nothing that goes through it is secret
// and lies beside what a stranger chose, so that its length tells nothing.
func zip(body []byte) []byte {
	var out bytes.Buffer
	z := gzip.NewWriter(&out)
	_, _ = z.Write(body)
	_ = z.Close()
	return out.Bytes()
}

// sendPacked writes a whole answer, packed for those who can unpack it.
func sendPacked(w http.ResponseWriter, status int, r rendered) {
	w.Header().Add("Vary", "Accept-Encoding")
	body := r.plain
	if t, ok := w.(*taker); ok && t.zips {
		if body = r.zipped; body == nil {
			body = zip(r.plain)
		}
		w.Header().Set("Content-Encoding", "gzip")
	}
	w.WriteHeader(status)
	_, _ = w.Write(body) // the asker may be gone; nothing is left to do
}
