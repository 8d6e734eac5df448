package document

import (
	"context"
	"encoding/json"
	"fmt"
	"io"

	"recoat/internal/audit"
	"recoat/sensors"
)

// Rounds calls each with the raw rounds behind a document, and each corrected.
type Rounds func(ctx context.Context, each func(room string, raw, corrected sensors.Round) error) error

// CSV writes the raw evidence: a line for each reading, then one with the digest
// of them all.
func CSV(ctx context.Context, out io.Writer, d audit.Document, rounds Rounds) error {
	lines := audit.NewLines(out)
	if err := lines.Head(); err != nil {
		return fmt.Errorf("write the CSV: %w", err)
	}
	if err := rounds(ctx, lines.Add); err != nil {
		return fmt.Errorf("write the CSV: %w", err)
	}
	if err := lines.Flush(); err != nil {
		return fmt.Errorf("write the CSV: %w", err)
	}
	_, err := fmt.Fprintf(out, "%s,%s\n", audit.LastLine, d.Evidence)
	return err
}

// JSON writes the document itself.
func JSON(out io.Writer, d audit.Document) error {
	e := json.NewEncoder(out)
	e.SetIndent("", "  ")
	if err := e.Encode(d); err != nil {
		return fmt.Errorf("write the JSON: %w", err)
	}
	return nil
}
