package telemetry

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

const maxNote = 16 << 10 // bytes of an acknowledgement or a state

// decodeNote reads one small JSON object and nothing after it.
func decodeNote(payload []byte, into any) error {
	if len(payload) > maxNote {
		return fmt.Errorf("%d bytes: at most %d are read", len(payload), maxNote)
	}
	dec := json.NewDecoder(bytes.NewReader(payload))
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		return err
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return errors.New("something follows the object")
	}
	return nil
}
