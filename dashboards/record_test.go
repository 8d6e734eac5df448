package dashboards

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"recoat/internal/audit"
	"recoat/internal/audit/audittest"
	"recoat/internal/audit/document"
	"recoat/internal/shop"
)

// fakeRecords has the record of one coat, with dew at dawn.
type fakeRecords struct{ noted []DefectRequest }

func (f *fakeRecords) record() (audit.Document, []*audit.Evidence) {
	e := audittest.Condensation()
	e.Coat.Note = `<script>alert("x")</script>`
	return audit.Document{Zone: "+00:00", Coats: []audit.Record{audit.Build(e)}}, []*audit.Evidence{e}
}

func (f *fakeRecords) Sections(_ context.Context, coat string) ([]document.Section, error) {
	if coat != "c-0007" && coat != "p-0001" {
		return nil, fmt.Errorf("read the coat: %w", shop.ErrNotFound)
	}
	return document.Sections(f.record()), nil
}

func (f *fakeRecords) Write(_ context.Context, w io.Writer, coat, format string) error {
	_, err := fmt.Fprintf(w, "%s of %s", format, coat)
	return err
}

func (f *fakeRecords) AddDefect(_ context.Context, d DefectRequest) error {
	if d.Photo != nil {
		if _, err := io.Copy(io.Discard, d.Photo); err != nil {
			return err
		}
	}
	f.noted = append(f.noted, d)
	return nil
}

func (f *fakeRecords) Compare(context.Context, []string) (audit.Comparison, error) {
	d, _ := f.record()
	return audit.Compare("Coats compared", []audit.Record{d.Coats[0], d.Coats[0]}), nil
}

func (f *fakeRecords) Uses(ctx context.Context, _ string) (audit.Comparison, error) {
	return f.Compare(ctx, nil)
}

func sendDefect(t *testing.T, h http.Handler, kind string, photo []byte) *httptest.ResponseRecorder {
	t.Helper()
	var b bytes.Buffer
	form := multipart.NewWriter(&b)
	for key, value := range map[string]string{"kind": kind, "place": "left end"} {
		if err := form.WriteField(key, value); err != nil {
			t.Fatal(err)
		}
	}
	if photo != nil {
		part, err := form.CreateFormFile("photo", "defect.jpg")
		if err != nil {
			t.Fatal(err)
		}
		if _, err := part.Write(photo); err != nil {
			t.Fatal(err)
		}
	}
	if err := form.Close(); err != nil {
		t.Fatal(err)
	}
	r := httptest.NewRequest(http.MethodPost, "http://127.0.0.1/coats/c-0007/defects", &b)
	r.Header.Set("Content-Type", form.FormDataContentType())
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func TestTheRecordIsShownAndSentInEveryFormat(t *testing.T) {
	records := &fakeRecords{}
	h := New(Options{House: newHouse(), Records: records, Location: time.UTC})
	w := get(h, "/coats/c-0007/record")
	wantProse(t, w, "Against the label and published practice", "surface above the dew point", "not met", "no readings", "Note a defect", "Seals")
	if body := w.Body.String(); strings.Contains(body, "<script>alert") || strings.Contains(body, " style=") || strings.Count(body, "<svg class=\"night\"") != 1 {
		t.Error("markup came through, or the policy forbids what the page needs")
	}
	for format, media := range mediaTypes {
		w := get(h, "/coats/c-0007/record/"+format)
		if w.Code != http.StatusOK || w.Header().Get("Content-Type") != media || !strings.HasPrefix(w.Header().Get("Content-Disposition"), `attachment; filename="record-c-0007.`) {
			t.Errorf("%s: %d %v", format, w.Code, w.Header())
		}
	}
	for _, path := range []string{"/coats/c-0001/record", "/coats/c-0007/record/exe"} {
		if w := get(h, path); w.Code != http.StatusNotFound {
			t.Errorf("%s: %d", path, w.Code)
		}
	}
	wantProse(t, get(h, "/compare?coats=c-0007,c-0008"), "Coats compared", "least dew margin until dry to recoat", "2 coats failed and 0 held")
	wantProse(t, get(h, "/compare"), "Name two coats or more")
}

func TestADefectIsNotedWithItsPhoto(t *testing.T) {
	records := &fakeRecords{}
	h := New(Options{House: newHouse(), Records: records, Location: time.UTC})
	if w := sendDefect(t, h, "blushing", []byte("a photo")); w.Code != http.StatusSeeOther || len(records.noted) != 1 || records.noted[0].Photo == nil || records.noted[0].Place != "left end" {
		t.Errorf("%d, %+v", w.Code, records.noted)
	}
	if w := sendDefect(t, h, "bewitched", nil); w.Code != http.StatusUnprocessableEntity || len(records.noted) != 1 {
		t.Errorf("an unknown kind: %d", w.Code)
	}
	if w := sendDefect(t, h, "blushing", make([]byte, mostUpload+1)); w.Code != http.StatusUnprocessableEntity || len(records.noted) != 1 {
		t.Errorf("a photo that is too large: %d", w.Code)
	}
}

func TestAPieceHasARecordOfItsCoats(t *testing.T) {
	h := New(Options{House: newHouse(), Records: &fakeRecords{}, Location: time.UTC})
	page := get(h, "/pieces/p-0001/record")
	if page.Code != http.StatusOK || !strings.Contains(page.Body.String(), `href="/pieces/p-0001/record/pdf"`) || strings.Contains(page.Body.String(), "/defects") {
		t.Errorf("%d: it has no PDF, or takes a defect that is of no coat", page.Code)
	}
	if file := get(h, "/pieces/p-0001/record/pdf"); file.Body.String() != "pdf of p-0001" || file.Header().Get("Content-Type") != "application/pdf" {
		t.Errorf("%q %q", file.Body.String(), file.Header().Get("Content-Type"))
	}
	if none := get(h, "/pieces/p-0009/record"); none.Code != http.StatusNotFound {
		t.Errorf("a piece that is not there: %d", none.Code)
	}
}
