// Package carecard makes the buyer's card of a piece a page of one sheet, to be
// printed or sent as one file that needs nothing else. What it says is
// internal/shop/care's; the note on the client never reaches it.
package carecard

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"net/url"
	"strings"
	"time"

	"recoat/internal/shop/care"
)

//go:embed card.html
var page string

// Style is the sheet's own style, for a file that stands alone.
//
//go:embed card.css
var Style string

// Sheet is what a card is printed with.
type Sheet struct {
	Card  care.Card
	Link  string // where the page of the card will stand; empty: no code
	Style string // address of the style; empty: it is written into the page
	Icon  string // address of the icon; empty: none
	Back  string // address to go back to; empty: a file that stands alone
}

// longestLink is how many bytes a code takes and stays readable on a card.
const longestLink = 300

// CheckLink refuses an address that no phone would open.
func CheckLink(link string) error {
	u, err := url.Parse(link)
	if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Host == "" || u.User != nil || len(link) > longestLink {
		return fmt.Errorf("%.80q is no address that a phone opens: write one such as https://shop.example/press.html, of at most %d characters", link, longestLink)
	}
	return nil
}

// Render writes the sheet as HTML.
func Render(w io.Writer, s Sheet) error {
	v := view{Sheet: s, Inline: template.CSS(Style)} // ours, from the binary
	if s.Link != "" {
		if err := CheckLink(s.Link); err != nil {
			return err
		}
		code, err := encode(s.Link)
		if err != nil {
			return fmt.Errorf("make the code of the card: %w", err)
		}
		v.Code = code
	}
	t, err := template.New("card").Funcs(template.FuncMap{"day": day, "capital": capital}).Parse(page)
	if err != nil {
		return fmt.Errorf("read the card's page: %w", err)
	}
	return t.Execute(w, v)
}

type view struct {
	Sheet
	Inline template.CSS
	Code   code
}

func day(t time.Time) string { return t.Format("2 January 2006") }

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
