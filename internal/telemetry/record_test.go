package telemetry

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// flat makes a record comparable and readable.
func flat(r record) string {
	s := fmt.Sprintf("%s [%s] @%.3f", r.name, r.unit, r.time)
	if r.value != nil {
		s += fmt.Sprintf(" v=%v", *r.value)
	}
	if r.text != nil {
		s += fmt.Sprintf(" vs=%q", *r.text)
	}
	if r.flag != nil {
		s += fmt.Sprintf(" vb=%v", *r.flag)
	}
	return s
}

func flatten(t *testing.T, pack string) []string {
	t.Helper()
	records, err := parseRecords([]byte(pack))
	if err != nil {
		t.Fatalf("%s: %v", pack, err)
	}
	var all []string
	for _, r := range records {
		all = append(all, flat(r))
	}
	return all
}

// The examples of RFC 8428, sections 5.1.1 to 5.1.7, as published.
const (
	rfcSingle   = `[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]`
	rfcCurrent  = `[{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},{"n":"current","t":-5,"v":1.2},{"n":"current","t":-4,"v":1.3},{"n":"current","t":-3,"v":1.4},{"n":"current","t":-2,"v":1.5},{"n":"current","t":-1,"v":1.6},{"n":"current","v":1.7}]`
	rfcMultiple = `[{"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},{"u":"lon","v":24.30621},{"u":"lat","v":60.07965},{"t":60,"v":20.3},{"u":"lon","t":60,"v":24.30622},{"u":"lat","t":60,"v":60.07965},{"t":120,"v":20.7},{"u":"lon","t":120,"v":24.30623},{"u":"lat","t":120,"v":60.07966},{"u":"%EL","t":150,"v":98},{"t":180,"v":21.2},{"u":"lon","t":180,"v":24.30628},{"u":"lat","t":180,"v":60.07967}]`
	rfcResolved = `[{"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067464e+09,"v":20},{"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067464e+09,"v":24.30621},{"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067464e+09,"v":60.07965},{"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067524e+09,"v":20.3},{"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067524e+09,"v":24.30622},{"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067524e+09,"v":60.07965},{"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067584e+09,"v":20.7},{"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067584e+09,"v":24.30623},{"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067584e+09,"v":60.07966},{"n":"urn:dev:ow:10e2073a01080063","u":"%EL","t":1.320067614e+09,"v":98},{"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067644e+09,"v":21.2},{"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067644e+09,"v":24.30628},{"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067644e+09,"v":60.07967}]`
	rfcTypes    = `[{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},{"n":"label","vs":"Machine Room"},{"n":"open","vb":false},{"n":"nfv-reader","vd":"aGkgCg"}]`
	rfcTwo      = `[{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},{"n":"humidity","u":"%RH","v":30},{"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},{"n":"humidity","u":"%RH","v":67}]`
	rfcActuator = `[{"bn":"urn:dev:ow:10e2073a01080063:"},{"n":"temp","u":"Cel","v":23.1},{"n":"heat","u":"/","v":1},{"n":"fan","u":"/","v":0}]`
)

func TestRecordsResolveAsInTheStandardsExamples(t *testing.T) {
	// RFC 8428, section 5.1.4, is section 5.1.3 resolved.
	if diff := cmp.Diff(flatten(t, rfcResolved), flatten(t, rfcMultiple)); diff != "" {
		t.Errorf("5.1.3 against 5.1.4:\n%s", diff)
	}
	const ow = "urn:dev:ow:10e2073a01080063"
	for pack, want := range map[string][]string{
		rfcSingle: {ow + " [Cel] @0.000 v=23.1"},
		rfcCurrent: {
			"urn:dev:ow:10e2073a0108006:voltage [V] @1276020076.001 v=120.1",
			"urn:dev:ow:10e2073a0108006:current [A] @1276020071.001 v=1.2",
			"urn:dev:ow:10e2073a0108006:current [A] @1276020072.001 v=1.3",
			"urn:dev:ow:10e2073a0108006:current [A] @1276020073.001 v=1.4",
			"urn:dev:ow:10e2073a0108006:current [A] @1276020074.001 v=1.5",
			"urn:dev:ow:10e2073a0108006:current [A] @1276020075.001 v=1.6",
			"urn:dev:ow:10e2073a0108006:current [A] @1276020076.001 v=1.7",
		},
		rfcTypes: {ow + ":temp [Cel] @0.000 v=23.1", ow + `:label [] @0.000 vs="Machine Room"`, ow + ":open [] @0.000 vb=false", ow + ":nfv-reader [] @0.000"},
		rfcTwo: {
			"2001:db8::2/temperature [Cel] @1320078429.000 v=25.2", "2001:db8::2/humidity [%RH] @1320078429.000 v=30",
			"2001:db8::1/temperature [Cel] @1320078429.000 v=12.3", "2001:db8::1/humidity [%RH] @1320078429.000 v=67",
		},
		rfcActuator: {ow + ":temp [Cel] @0.000 v=23.1", ow + ":heat [/] @0.000 v=1", ow + ":fan [/] @0.000 v=0"},
	} {
		if diff := cmp.Diff(want, flatten(t, pack)); diff != "" {
			t.Errorf("%s:\n%s", pack, diff)
		}
	}
}

// RFC 8428: section 4.1 (a base field holds until the next record that has
// it, zero included), 4.5.4 (whichever of value and base value is missing is
// zero), 4.4 (unknown fields are ignored), 3 (labels
// are compared byte by byte, so "V" is unknown).
func TestBaseFieldsHoldUntilTheNext(t *testing.T) {
	got := flatten(t, `[{"bn":"p/","bv":20,"bt":1000000000,"n":"a","v":1.5},{"n":"b"},{"bv":0,"bt":0,"n":"c","v":3},
		{"bs":4,"n":"d","vs":"x"},{"n":"e"},{"n":"f","N":"g","v":1,"V":2,"later":{"deep":[1,{"v":2}]}}]`)
	want := []string{"p/a [] @1000000000.000 v=21.5", "p/b [] @1000000000.000 v=20", "p/c [] @0.000 v=3", `p/d [] @0.000 vs="x"`, "p/e [] @0.000 v=0", "p/f [] @0.000 v=1"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	// A base sum gives a record a sum, and a sum is enough.
	got = flatten(t, `[{"bs":4,"n":"a","vs":"x"},{"n":"b"}]`)
	if diff := cmp.Diff([]string{`a [] @0.000 vs="x"`, "b [] @0.000"}, got); diff != "" {
		t.Error(diff)
	}
}

func TestRecordsThatTheStandardRefuses(t *testing.T) {
	many := "[" + strings.Repeat(`{"n":"a","v":1},`, MaxRecords) + `{"n":"a","v":1}]`
	for pack, reason := range map[string]string{
		``:                                "array",
		`{}`:                              "array",
		`null`:                            "array",
		`[{"n":"a","v":1}`:                "found the end",
		`[{"n":"a","v":1}]x`:              "follows",
		`[{"n":"a","v":1}] []`:            "follows",
		`[1]`:                             "want '{'",
		`[{"n":"a"}]`:                     "no value",
		`[{"n":"a","v":1,"vs":"x"}]`:      "more than one",
		`[{"v":1}]`:                       "no name",
		`[{"n":"/a","v":1}]`:              "starts with",
		`[{"n":"a b","v":1}]`:             "starts with",
		`[{"n":"a","v":"1"}]`:             "want a number",
		`[{"n":"a","v":null}]`:            "want a number",
		`[{"n":7,"v":1}]`:                 "want a string",
		`[{"n":"a","v":1e400}]`:           "1e400",
		`[{"n":"a","v":NaN}]`:             "want a number",
		`[{"n":"a","v":1,"v":2}]`:         "twice",
		`[{"bn":"a","bn":"b","v":2}]`:     "twice",
		`[{"n":"a","v":1,"must_":1}]`:     "understood",
		`[{"bver":11,"n":"a","v":1}]`:     "version 11",
		`[{"bver":2.5,"n":"a","v":1}]`:    "version 2.5",
		`[{"bver":0,"n":"a","v":1}]`:      "version 0",
		"[{\"n\":\"a\",\"vs\":\"\xff\"}]": "UTF-8",
		many:                              "more than 256",
		`[{"n":"a","v":1},{"bver":5,"n":"b","v":1}]`:                  "version 5 after version 10",
		`[{"n":"a","vs":"` + strings.Repeat("x", MaxPack) + `"}]`:     "bytes",
		`[` + strings.Repeat("[", 20000) + strings.Repeat("]", 20000): "want '{'",
		`[{"n":"a","v":1,"x":` + strings.Repeat("[", 20000) + `]}]`:   "depth",
		`[{"n":"a","V":1}]`: "no value",
	} {
		if records, err := parseRecords([]byte(pack)); err == nil || !strings.Contains(err.Error(), reason) {
			t.Errorf("%.60s: %v, %v: want an error with %q", pack, records, err, reason)
		}
	}
}
