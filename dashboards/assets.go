package dashboards

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"net/http"
	"path"
	"strings"
)

// assetFiles always holds our own style and scripts, and below lib/ the chart
// library if it was installed before the build.
//
//go:embed assets
var assetFiles embed.FS

type asset struct {
	body []byte
	zip  []byte
	hash string
	mime string
}

// assets are the static files by their path below assets/. An address carries
// the hash of its content, so that a browser may keep it for ever.
type assets struct {
	files map[string]asset
}

// kinds are the media types of the files there are, by their ending. The table of
// the system is not asked: it differs from one to the next, and is large.
var kinds = map[string]string{
	".css": "text/css; charset=utf-8",
	".js":  "text/javascript; charset=utf-8",
	".svg": "image/svg+xml",
	".txt": "text/plain; charset=utf-8",
}

func loadAssets(files fs.FS) *assets {
	a := &assets{files: map[string]asset{}}
	err := fs.WalkDir(files, "assets", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		body, err := fs.ReadFile(files, name)
		if err != nil {
			return err
		}
		sum := sha256.Sum256(body)
		a.files[strings.TrimPrefix(name, "assets/")] = asset{
			body: body, zip: zip(body),
			hash: hex.EncodeToString(sum[:6]),
			mime: kinds[path.Ext(name)],
		}
		return nil
	})
	if err != nil {
		panic("dashboards: embedded assets: " + err.Error()) // the binary is broken
	}
	return a
}

// address returns where a file is served, and "" if it is not built in.
func (a *assets) address(name string) string {
	f, ok := a.files[name]
	if !ok {
		return ""
	}
	ext := path.Ext(name)
	return "/assets/" + strings.TrimSuffix(name, ext) + "." + f.hash + ext
}

func (a *assets) serve(w http.ResponseWriter, r *http.Request) {
	asked := r.PathValue("file")
	ext := path.Ext(asked)
	bare := strings.TrimSuffix(asked, ext)
	hash := path.Ext(bare)
	f, ok := a.files[strings.TrimSuffix(bare, hash)+ext]
	if !ok || hash != "."+f.hash {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", f.mime)
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	sendPacked(w, http.StatusOK, rendered{f.body, f.zip})
}
