package recording

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"time"

	"recoat/drying"
)

// What a file may hold.
const (
	LongestLine = 4096      // bytes
	MostRows    = 2_000_000 // nearly four years of minutes
	shown       = 20        // bad rows that a report tells of one by one
)

// Report says what became of the rows of a file. Bad + Doubled + the samples
// are Rows.
type Report struct {
	Rows       int       `json:"rows"` // with anything on them, the header not counted
	Bad        int       `json:"bad"`
	OutOfOrder int       `json:"out_of_order"` // earlier than a row before them; put in their place
	Doubled    int       `json:"doubled"`      // left out for a later row of the same instant
	Problems   []Problem `json:"problems"`     // the first 20 bad rows
	From       time.Time `json:"from"`
	To         time.Time `json:"to"`
}

// Problem says what was wrong with one row.
type Problem struct {
	Line   int    `json:"line"` // counts from 1, the header's line included
	Reason string `json:"reason"`
}

// String joins the two.
func (p Problem) String() string { return fmt.Sprintf("line %d: %s", p.Line, p.Reason) }

// ReadFile reads the file at path, as Read does.
func ReadFile(path string, local *time.Location) ([]drying.Sample, Report, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, Report{}, fmt.Errorf("read the readings: %w", err)
	}
	samples, report, err := Read(f, local)
	if err = errors.Join(err, f.Close()); err != nil {
		return nil, report, fmt.Errorf("%s: %w", path, err)
	}
	return samples, report, nil
}

// Read reads a CSV whose first line names its columns: time, air_c and rh_pct,
// and where known surface_c, pressure_hpa and air_speed_m_s; other columns are
// ignored. Times are RFC 3339, or "2006-01-02 15:04" on the clocks of local.
// The samples are in order of time, one of an instant. Of rows of the same
// instant the last in the file is kept: loggers write a correction after what
// it corrects. A file without a single good row is an error.
func Read(r io.Reader, local *time.Location) ([]drying.Sample, Report, error) {
	lines := &lineReader{r: bufio.NewReaderSize(r, LongestLine)}
	report := Report{Problems: []Problem{}}
	header, err := lines.next()
	if errors.Is(err, io.EOF) {
		return nil, report, fmt.Errorf("the file is empty: %s", rightHeader)
	}
	if err != nil {
		return nil, report, err
	}
	columns, err := parseHeader(header)
	if err != nil {
		return nil, report, err
	}
	samples, err := report.rows(lines, columns, local)
	if err != nil {
		return nil, report, err
	}
	if len(samples) == 0 {
		return nil, report, report.nothing()
	}
	samples = report.arrange(samples)
	report.From, report.To = samples[0].At, samples[len(samples)-1].At
	return samples, report, nil
}

func (r *Report) rows(lines *lineReader, columns layout, local *time.Location) ([]drying.Sample, error) {
	var samples []drying.Sample
	for {
		line, err := lines.next()
		if errors.Is(err, io.EOF) {
			return samples, nil
		}
		tooLong := errors.Is(err, errLongLine)
		if err != nil && !tooLong {
			return nil, err
		}
		if line == "" && !tooLong {
			continue
		}
		if r.Rows == MostRows {
			return nil, fmt.Errorf("line %d: a file has at most %d rows: split it", lines.count, MostRows)
		}
		r.Rows++
		var sample drying.Sample
		if err == nil {
			sample, err = columns.parse(line, local)
		}
		if err != nil {
			r.bad(lines.count, err)
			continue
		}
		samples = append(samples, sample)
	}
}

func (r *Report) bad(line int, err error) {
	r.Bad++
	if len(r.Problems) < shown {
		r.Problems = append(r.Problems, Problem{line, err.Error()})
	}
}

func (r *Report) nothing() error {
	if r.Bad == 0 {
		return errors.New("the file has a header and no readings: each further line holds one, such as 2026-03-01T21:30:00Z,18.5,62")
	}
	return fmt.Errorf("none of the %d rows can be taken; %s", r.Bad, r.Problems[0])
}

// arrange sorts the samples and leaves one of each instant.
func (r *Report) arrange(samples []drying.Sample) []drying.Sample {
	latest := samples[0].At
	for _, s := range samples[1:] {
		if s.At.Before(latest) {
			r.OutOfOrder++
		} else {
			latest = s.At
		}
	}
	slices.SortStableFunc(samples, func(a, b drying.Sample) int { return a.At.Compare(b.At) })
	kept := samples[:1]
	for _, s := range samples[1:] {
		if last := &kept[len(kept)-1]; last.At.Equal(s.At) {
			*last = s
			r.Doubled++
			continue
		}
		kept = append(kept, s)
	}
	return kept
}
