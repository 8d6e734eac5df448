package dashboards

import (
	"encoding/json"
	"net/http"
)

// manifest says how the pages stand on a phone once they are kept there (W3C Web
// Application Manifest).
type manifest struct {
	Name        string         `json:"name"`
	ShortName   string         `json:"short_name"`
	Description string         `json:"description"`
	Start       string         `json:"start_url"`
	Scope       string         `json:"scope"`
	Display     string         `json:"display"`
	Background  string         `json:"background_color"`
	Theme       string         `json:"theme_color"`
	Icons       []manifestIcon `json:"icons"`
}

type manifestIcon struct {
	Source  string `json:"src"`
	Sizes   string `json:"sizes"`
	Type    string `json:"type"`
	Purpose string `json:"purpose"`
}

func (s *server) manifest(w http.ResponseWriter, _ *http.Request) {
	body, err := json.Marshal(manifest{
		Name: "recoat", ShortName: "recoat", Description: "When the next coat can go on",
		Start: "/", Scope: "/", Display: "standalone", Background: "#f4eee1", Theme: "#f4eee1",
		Icons: []manifestIcon{{s.assets.address("icon.svg"), "any", "image/svg+xml", "any"}},
	})
	if err != nil {
		s.log.Error("encode the manifest", "err", err)
		http.Error(w, "The manifest could not be made. The log says why.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/manifest+json")
	_, _ = w.Write(body) // the asker may be gone; nothing is left to do
}

// worker serves the service worker from the root, which is its scope. The
// browser asks for it anew by itself, so that it carries no hash.
func (s *server) worker(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "text/javascript; charset=utf-8")
	w.Header().Set("Cache-Control", "no-cache")
	_, _ = w.Write(s.assets.files["worker.js"].body) // the asker may be gone; nothing is left to do
}
