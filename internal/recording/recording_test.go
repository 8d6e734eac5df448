package recording

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
)

func at(s string) time.Time {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		panic(err)
	}
	return t
}

func TestReadTakesEveryColumn(t *testing.T) {
	const file = "\ufeffnote,time,air_c,rh_pct,surface_c,pressure_hpa,air_speed_m_s\r\n" +
		"first,2026-03-01T21:30:00Z,18.5,62,17.25,1013.25,0.1\r\n" +
		"\r\n" +
		`"damp, cold",2026-03-01 22:31,18.4,63,,,` + "\r\n"
	samples, report, err := Read(strings.NewReader(file), time.FixedZone("", 3600))
	if err != nil {
		t.Fatal(err)
	}
	want := []drying.Sample{
		{At: at("2026-03-01T21:30:00Z"), Conditions: drying.Conditions{Air: 18.5, Humidity: 62, Surface: 17.25, SurfaceMeasured: true, AirSpeed: 0.1, Pressure: 101325}},
		{At: at("2026-03-01T21:31:00Z"), Conditions: drying.Conditions{Air: 18.4, Humidity: 63, Surface: 18.4}},
	}
	if d := cmp.Diff(want, samples); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff(Report{Rows: 2, Problems: []Problem{}, From: want[0].At, To: want[1].At}, report); d != "" {
		t.Error(d)
	}
}

func TestReadReportsBadRows(t *testing.T) {
	file := strings.Join([]string{
		"time,air_c,rh_pct",
		"2026-03-01T21:30:00Z,18.5,62",
		"2026-03-01T21:31:00Z,18,5,62",
		"2026-03-01T21:32:00Z,NaN,62",
		"2026-03-01T21:33:00Z,18.5,101",
		"2026-03-01T21:34:00Z,1e400,62",
		"2026-03-01T21:35:00Z,-0x1p4,62",
		"2026-03-01T21:36:00Z,,62",
		"yesterday,18.5,62",
		`2026-03-01T21:38:00Z,"18.5,62`,
		"2026-03-01T21:39:00Z,18.5," + strings.Repeat("6", 2*LongestLine),
		"2026-03-01T21:40:00Z,Infinity,62",
		"2026-03-01T21:41:00Z,18.5,62",
	}, "\n")
	samples, report, err := Read(strings.NewReader(file), time.UTC)
	if err != nil {
		t.Fatal(err)
	}
	want := Report{
		Rows: 12, Bad: 10, From: at("2026-03-01T21:30:00Z"), To: at("2026-03-01T21:41:00Z"),
		Problems: []Problem{
			{3, "it has 4 cells, and the header 3"},
			{4, `air_c: "NaN" is not a number`},
			{5, `rh_pct: "101" cannot be`},
			{6, `air_c: "1e400" cannot be`},
			{7, `air_c: "-0x1p4" is not a number`},
			{8, "air_c is empty"},
			{9, `time: "yesterday" is not a time: write 2026-03-01 21:30, or 2026-03-01T21:30:00+01:00`},
			{10, "its quotation marks do not match"},
			{11, "the line is too long: at most 4096 bytes are read"},
			{12, `air_c: "Infinity" cannot be`},
		},
	}
	if d := cmp.Diff(want, report); d != "" || len(samples) != 2 {
		t.Error(len(samples), d)
	}
}

func TestReadKeepsTheFirstReasons(t *testing.T) {
	file := "time,air_c,rh_pct\n2026-03-01T21:30:00Z,18.5,62\n" + strings.Repeat("x,1,2\n", 50)
	_, report, err := Read(strings.NewReader(file), time.UTC)
	if err != nil || report.Bad != 50 || len(report.Problems) != 20 || report.Problems[19].Line != 22 {
		t.Errorf("%d bad, %d told of, the last %v; %v", report.Bad, len(report.Problems), report.Problems[len(report.Problems)-1], err)
	}
}

func TestReadSortsAndKeepsTheLastOfAnInstant(t *testing.T) {
	const file = `time,air_c,rh_pct
2026-03-01T21:30:00Z,1,50
2026-03-01T21:32:00Z,3,50
2026-03-01T21:31:00Z,2,50
2026-03-01T21:29:00Z,0,50
2026-03-01T23:32:00+02:00,33,50
2026-03-01T21:32:00Z,4,50`
	samples, report, err := Read(strings.NewReader(file), time.UTC)
	if err != nil {
		t.Fatal(err)
	}
	var air []float64
	for _, s := range samples {
		air = append(air, float64(s.Air))
	}
	if d := cmp.Diff([]float64{0, 1, 2, 4}, air); d != "" {
		t.Error(d)
	}
	if report.Rows != 6 || report.Bad != 0 || report.OutOfOrder != 2 || report.Doubled != 2 {
		t.Errorf("%+v", report)
	}
}

func TestReadRefusesFiles(t *testing.T) {
	for file, says := range map[string]string{
		"":                               "the file is empty: its first line must be a header such as time,air_c,rh_pct,surface_c",
		"\n\n":                           `line 1: "" has no column time: its first line must be a header such as time,air_c,rh_pct,surface_c`,
		"time;air_c;rh_pct\n":            `line 1: "time;air_c;rh_pct" has no column time: its first line must be a header such as time,air_c,rh_pct,surface_c`,
		"time,air_c,humidity":            `line 1: "time,air_c,humidity" has no column rh_pct: its first line must be a header such as time,air_c,rh_pct,surface_c`,
		"time,air_c,rh_pct,air_c":        "line 1: the column air_c is there twice: leave one of them out",
		"time,air_c,rh_pct\n":            "the file has a header and no readings: each further line holds one, such as 2026-03-01T21:30:00Z,18.5,62",
		"time,air_c,rh_pct\n1,2,3\n,,\n": `none of the 2 rows can be taken; line 2: time: "1" is not a time: write 2026-03-01 21:30, or 2026-03-01T21:30:00+01:00`,
		strings.Repeat("time,", 2000):    "the line is too long: at most 4096 bytes are read",
	} {
		if _, _, err := Read(strings.NewReader(file), time.UTC); err == nil || err.Error() != says {
			t.Errorf("%.40q: %v\n want %s", file, err, says)
		}
	}
}

func TestReadPassesOnWhatTheDiskSays(t *testing.T) {
	broken := errors.New("bad sector")
	file := io.MultiReader(strings.NewReader("time,air_c,rh_pct\n2026-03-01T21:30:00Z,18.5,62\n2026-"), iotest.ErrReader(broken))
	if _, _, err := Read(file, time.UTC); !errors.Is(err, broken) {
		t.Error(err)
	}
}

// The recording lies beside the project where the project is worked on.
func TestReadOfficeRecording(t *testing.T) {
	path := filepath.Join("..", "..", "..", "shared", "data", "rooms", "office-2015-02.csv")
	if _, err := os.Stat(path); err != nil {
		t.Skip("the recorded office is not here:", err)
	}
	samples, report, err := ReadFile(path, time.UTC)
	if err != nil {
		t.Fatal(err)
	}
	if len(samples) != 20560 || report.Rows != 20560 || report.Bad != 0 || report.Doubled != 0 || report.OutOfOrder != 0 {
		t.Errorf("%d samples, %+v", len(samples), report)
	}
	if first := samples[0]; !first.At.Equal(at("2015-02-02T14:19:00Z")) || first.Air != 23.7 || first.Humidity != 26.272 {
		t.Errorf("the first sample is %+v", first)
	}
}

func FuzzRead(f *testing.F) {
	f.Add("time,air_c,rh_pct\n2026-03-01T21:30:00Z,18.5,62\n")
	f.Add("rh_pct,time,air_c,surface_c\n\"62\",2026-03-01 21:30,18.5,\n62,2026-03-01 21:30,18.5,\n")
	f.Fuzz(func(t *testing.T, file string) {
		samples, report, err := Read(strings.NewReader(file), time.UTC)
		if err != nil {
			return
		}
		if report.Rows != report.Bad+report.Doubled+len(samples) {
			t.Errorf("%d samples of %+v", len(samples), report)
		}
		for i, s := range samples {
			if i > 0 && !s.At.After(samples[i-1].At) {
				t.Errorf("sample %d is not later than the one before", i)
			}
			if s.Humidity < 0 || s.Humidity > 100 || s.Air < -60 || s.Air > 150 {
				t.Errorf("sample %d is %+v", i, s)
			}
		}
	})
}

func BenchmarkRead(b *testing.B) {
	var file strings.Builder
	file.WriteString("time,air_c,rh_pct\n")
	for i := range 10_000 {
		fmt.Fprintf(&file, "%s,18.5,62\n", at("2026-03-01T00:00:00Z").Add(time.Duration(i)*time.Minute).Format(time.RFC3339))
	}
	b.SetBytes(int64(file.Len()))
	for b.Loop() {
		if _, _, err := Read(strings.NewReader(file.String()), time.UTC); err != nil {
			b.Fatal(err)
		}
	}
}
