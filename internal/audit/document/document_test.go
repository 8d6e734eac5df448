package document

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"recoat/internal/audit"
	"recoat/internal/audit/audittest"
)

func made(e *audit.Evidence) audit.Document {
	d := audit.Document{Format: audit.FormatName, Schema: 1, Title: "Coat " + e.Coat.ID, Made: e.Made, Zone: "+02:00", Coats: []audit.Record{audit.Build(e)}}
	d.Digest, _ = d.Reckon()
	return d
}

func TestPictures(t *testing.T) {
	folder := os.Getenv("RECOAT_PICTURES")
	if folder == "" {
		t.Skip("RECOAT_PICTURES names no folder to write documents to")
	}
	for name, e := range map[string]*audit.Evidence{"clean": audittest.Clean(), "dawn": audittest.Condensation(), "cold": audittest.ColdFilm(), "month": audittest.Month()} {
		d := made(e)
		for _, paper := range []Paper{A4, Letter} {
			var b bytes.Buffer
			if err := PDF(&b, d, []*audit.Evidence{e}, paper, nil); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(folder, name+"-"+string(paper)+".pdf"), b.Bytes(), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		var b bytes.Buffer
		if err := HTML(&b, d, []*audit.Evidence{e}, nil); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(folder, name+".html"), b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}
