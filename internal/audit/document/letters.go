//go:build !packed

package document

import (
	"github.com/go-fonts/dejavu/dejavusans"
	"github.com/go-fonts/dejavu/dejavusansbold"
)

// letters are the fonts of the PDF: as their modules have them, so that tests
// and `go run` need nothing made beforehand.
func letters() (plain, bold []byte) { return dejavusans.TTF, dejavusansbold.TTF }
