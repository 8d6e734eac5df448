package dashboards

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"recoat/internal/shop"
)

func (s *server) pastRoutes(mux *http.ServeMux) {
	mux.HandleFunc("POST /changes/{seq}/undo", s.changeUndo)
	mux.HandleFunc("POST /archive/{id}", s.archive)
	mux.HandleFunc("POST /unarchive/{id}", s.unarchive)
}

// pastLine is one change of something: who did what and when, with what stood
// there before and after.
type pastLine struct {
	Seq       int64
	When, Who string
	What      string
	Lines     []pastField
	Undo      bool // it can be taken back
}

type pastField struct{ Name, Before, After string }

// past is the history of what has an id, the newest first.
func (s *server) past(ctx context.Context, id string) ([]pastLine, error) {
	changes, err := s.book.Past.ChangesOf(ctx, id)
	if err != nil {
		return nil, err
	}
	var all []pastLine
	for _, c := range slices.Backward(changes) {
		all = append(all, s.words.pastLine(c, s.now()))
	}
	return all, nil
}

func (w words) pastLine(c shop.Change, now time.Time) pastLine {
	line := pastLine{Seq: c.Seq, When: w.clock(c.At, now), Who: c.Who, What: capital(c.What), Undo: strings.HasPrefix(c.What, "edit the ")}
	if c.Tap != "" && c.At.Sub(c.Made) > time.Minute {
		line.When = w.clock(c.Made, now) + ", sent " + w.clock(c.At, now)
	}
	if !line.Undo {
		return line
	}
	before, after := fieldsOf(c.Before), fieldsOf(c.After)
	for _, name := range slices.Sorted(maps.Keys(after)) {
		line.Lines = append(line.Lines, pastField{fieldWords(name), before[name], after[name]})
	}
	return line
}

// fieldWords is what the record calls a field, in the words of the forms.
func fieldWords(name string) string {
	words := map[string]string{
		"film_um": "wet film, µm", "film_least_um": "gauge, last wet tooth, µm", "film_most_um": "gauge, next dry tooth, µm", "used_ml": "went on, mL",
		"area_m2": "face, m²", "thinned_pct": "thinned, %", "recipe": "mix", "thickness_mm": "thickness, mm", "client": "for whom", "applied": "put on at",
	}
	if w, ok := words[name]; ok {
		return w
	}
	return strings.ReplaceAll(name, "_", " ")
}

// fieldsOf are the fields of what a change recorded, as text.
func fieldsOf(record json.RawMessage) map[string]string {
	fields := map[string]any{}
	decoder := json.NewDecoder(bytes.NewReader(record))
	decoder.UseNumber()
	if decoder.Decode(&fields) != nil {
		return nil // not fields: the change is told by its name alone
	}
	all := map[string]string{}
	for name, value := range fields {
		all[name] = fmt.Sprint(value)
	}
	return all
}

func (s *server) changeUndo(w http.ResponseWriter, r *http.Request) {
	s.tap(w, r, "undo a change", func(ctx context.Context, _ answers, _ time.Time) (taken, error) {
		seq, err := strconv.ParseInt(r.PathValue("seq"), 10, 64)
		if err != nil {
			return taken{}, &shop.InputError{Field: "the change", Problem: "has no such number"}
		}
		return taken{noted: "undone", to: "/"}, s.book.Past.UndoEdit(ctx, seq, s.now())
	})
}

func (s *server) archive(w http.ResponseWriter, r *http.Request) {
	s.tap(w, r, "archive", func(ctx context.Context, _ answers, _ time.Time) (taken, error) {
		return taken{noted: "archived", undo: "/unarchive/" + r.PathValue("id"), to: listOf(r.PathValue("id"))}, s.book.Past.Archive(ctx, r.PathValue("id"), s.now())
	})
}

func (s *server) unarchive(w http.ResponseWriter, r *http.Request) {
	s.tap(w, r, "take out of the archive", func(ctx context.Context, _ answers, _ time.Time) (taken, error) {
		return taken{noted: "unarchived", to: listOf(r.PathValue("id"))}, s.book.Past.Unarchive(ctx, r.PathValue("id"), s.now())
	})
}

// filedLine is something in the archive, with the page it still has, if any.
type filedLine struct{ ID, Href, Name, Since string }

// filed lists the archive of one kind. One that cannot be read is logged and
// shown as empty: the list above it is what was asked for.
func (s *server) filed(ctx context.Context, kind string) []filedLine {
	all, err := s.book.Past.Filed(ctx, kind)
	if err != nil {
		s.log.Error("list the archive", "err", err)
	}
	var lines []filedLine
	for _, f := range all {
		lines = append(lines, filedLine{f.ID, listOf(f.ID) + "/" + f.ID, f.Name, "since " + s.words.date(f.Since)})
	}
	return lines
}

// listOf is the list that something stands in, by the letter of its id.
func listOf(id string) string {
	switch id[:min(1, len(id))] {
	case "f":
		return "/products"
	case "m":
		return "/mixes"
	case "s":
		return "/shelf"
	}
	return "/pieces"
}
