package dashboards

import "testing"

// A browser takes no style or script without its media type.
func TestEveryAssetHasAMediaType(t *testing.T) {
	files := loadAssets(assetFiles).files
	if len(files) == 0 {
		t.Fatal("there are no assets")
	}
	for name, f := range files {
		if f.mime == "" {
			t.Errorf("%s has none: add its ending to kinds", name)
		}
	}
}
