package dashboards

import (
	"strings"

	"recoat/internal/access"
)

// wallSees is what a wall display may look at. An entry that ends in "/" stands for
// all below it.
var wallSees = []string{"/", "/wall", "/wall/", "/room/", "/events", "/api/rooms", "/api/rooms/", "/healthz", "/account", "/manifest.webmanifest", "/sw.js"}

// helperNotes is what a helper may note: work, and having seen what was told. All else
// that changes something is the owner's.
var helperNotes = []string{"/coats", "/coats/", "/touches/", "/parts/", "/pieces", "/pieces/", "/shelf", "/shelf/", "/mixes", "/mixes/", "/changes/", "/alerts/"}

// may reports whether a role allows to read, or to change, what is at a path.
// What no list names is the owner's to change.
func may(role access.Role, reads bool, path string) bool {
	switch {
	case role == access.Owner:
		return true
	case strings.Contains(path, "//") || strings.Contains(path, "/."):
		return false // the router would look for something else
	case role == access.Helper && reads:
		return true
	case role == access.Helper:
		return listed(helperNotes, path)
	case role == access.Wall:
		return reads && listed(wallSees, path)
	}
	return false
}

func listed(list []string, path string) bool {
	for _, entry := range list {
		if path == entry || entry != "/" && strings.HasSuffix(entry, "/") && strings.HasPrefix(path, entry) {
			return true
		}
	}
	return false
}
