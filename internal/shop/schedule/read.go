package schedule

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// largestFile is how many bytes of steps are read.
const largestFile = 256 << 10

// ReadSteps reads steps from JSON: a list of them. What it returns is not
// checked yet.
func ReadSteps(r io.Reader) ([]Step, error) {
	limited := &io.LimitedReader{R: r, N: largestFile + 1}
	decoder := json.NewDecoder(limited)
	decoder.DisallowUnknownFields()
	var steps []Step
	err := decoder.Decode(&steps)
	if err == nil {
		if _, end := decoder.Token(); !errors.Is(end, io.EOF) {
			err = errors.New("something follows the list")
		}
	}
	switch {
	case limited.N == 0:
		return nil, fmt.Errorf("the steps are larger than %d KiB: a schedule has a few lines", largestFile>>10)
	case err != nil:
		return nil, fmt.Errorf("the steps cannot be read: %w; write a list such as [{\"kind\":\"sand\",\"grits\":[150,220]},{\"kind\":\"colour\",\"waits\":[]}]", err)
	case len(steps) > MostSteps:
		return nil, fmt.Errorf("%d steps: at most %d fit", len(steps), MostSteps)
	}
	return steps, nil
}
