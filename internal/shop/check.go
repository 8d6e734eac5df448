package shop

import (
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"recoat/drying"
)

// ErrNotFound says that nothing has the id that was asked for.
var ErrNotFound = errors.New("the journal holds nothing of that name")

// InputError says what a person gave that cannot be taken, and what would be
// right.
type InputError struct {
	Field   string // such as "the piece's name"
	Problem string // such as "is empty: give it one"
}

// Error joins the two.
func (e *InputError) Error() string { return e.Field + " " + e.Problem }

// What the journal takes.
const (
	LongestName    = 200 // runes
	LongestNote    = 500 // runes
	ThinnestFilm   = drying.Microns(1)
	ThickestFilm   = drying.Microns(2000)
	ClockTolerance = 15 * time.Minute // how far ahead a time may be
)

// cleanName returns s without the space around it, which must leave a name.
func cleanName(field, s string) (string, error) {
	s, err := cleanText(field, s, LongestName)
	if err == nil && s == "" {
		err = &InputError{field, "is empty: give it a name"}
	}
	return s, err
}

// cleanText returns s without the space around it. It refuses what cannot be
// shown as it is: control characters, and the marks that turn text round and
// so can make one name look like another.
func cleanText(field, s string, longest int) (string, error) {
	s = strings.TrimSpace(s)
	if !utf8.ValidString(s) {
		return "", &InputError{field, "is not valid UTF-8 text: type it again"}
	}
	if n := utf8.RuneCountInString(s); n > longest {
		return "", &InputError{field, fmt.Sprintf("has %d characters: at most %d fit", n, longest)}
	}
	for _, r := range s {
		if unicode.IsControl(r) || unicode.In(r, unicode.Bidi_Control, unicode.Zl, unicode.Zp) {
			return "", &InputError{field, fmt.Sprintf("holds the invisible character %U: leave it out", r)}
		}
	}
	return s, nil
}

// checkFilm takes 0 for a film that was not measured.
func checkFilm(f drying.Microns) error {
	if f == 0 || f >= ThinnestFilm && f <= ThickestFilm {
		return nil
	}
	return &InputError{"the film", fmt.Sprintf("of %v µm cannot be: a wet film has %v to %v µm, or leave it out", float64(f), float64(ThinnestFilm), float64(ThickestFilm))}
}

// earliest is when the first time can lie that the journal takes. An unset
// clock starts long before it.
var earliest = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

func checkTime(field string, t, now time.Time) error {
	switch {
	case t.Before(earliest):
		return &InputError{field, fmt.Sprintf("lies before the year %d: give the time at which it was done", earliest.Year())}
	case t.After(now.Add(ClockTolerance)):
		return &InputError{field, "lies in the future: give the time at which it was done"}
	}
	return nil
}

// cleanLines is cleanText for a text of several lines.
func cleanLines(field, s string, longest int) (string, error) {
	if len(s) > 4*longest {
		return "", &InputError{field, fmt.Sprintf("has %d bytes: at most %d characters fit", len(s), longest)}
	}
	lines := strings.Split(strings.TrimSpace(s), "\n")
	for i := range lines {
		var err error
		if lines[i], err = cleanText(field, lines[i], longest); err != nil {
			return "", err
		}
	}
	return strings.Join(lines, "\n"), nil
}

// within refuses a number that cannot be.
func within(field string, v, least, most float64, unit string) error {
	if v >= least && v <= most {
		return nil
	}
	return &InputError{field, fmt.Sprintf("of %g %s cannot be: %g to %g %s", v, unit, least, most, unit)}
}

// firstError runs checks until one fails.
func firstError(checks ...func() error) error {
	for _, check := range checks {
		if err := check(); err != nil {
			return err
		}
	}
	return nil
}
