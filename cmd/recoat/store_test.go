package main

import (
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func storeFile(t *testing.T, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "recoat.toml")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestStoreConfigurationIsHeldToWhatThereIs(t *testing.T) {
	for text, want := range map[string]string{
		"[store]\nkind = \"paper\"":    `store.kind "paper"`,
		"[store]\nkind = \"influxdb\"": "store.url",
	} {
		if _, err := loadConfig(storeFile(t, text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", text, err)
		}
	}
}

func TestStoreCommandsSayWhatIsMissing(t *testing.T) {
	refusing := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusUnauthorized) }))
	defer refusing.Close()
	for _, c := range []struct{ text, want string }{
		{"", "no server is named"},
		{"[store]\nurl = \"ftp://shop\"", "http://host:8086"},
		{"[store]\nurl = \"" + refusing.URL + "\"", "401"},
	} {
		var out, errs strings.Builder
		if code := run(t.Context(), []string{"store", "prepare", "--config", storeFile(t, c.text)}, &out, &errs); code != exitFailed || !strings.Contains(errs.String(), c.want) {
			t.Errorf("%q: exit %d, %q", c.text, code, errs.String())
		}
	}
}
