package telemetry

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"unicode/utf8"
)

// byTheLibrary reads the labels of a pack's records with encoding/json, under the
// rules that parseRecords has for them.
func byTheLibrary(payload []byte) (all []map[string]any, err error) {
	dec := json.NewDecoder(bytes.NewReader(payload))
	if t, err := dec.Token(); err != nil || t != json.Delim('[') {
		return nil, errors.Join(err, fmt.Errorf("%v in place of an array", t))
	}
	for dec.More() {
		if t, err := dec.Token(); err != nil || t != json.Delim('{') {
			return nil, errors.Join(err, fmt.Errorf("%v in place of a record", t))
		}
		record := map[string]any{}
		for dec.More() {
			t, err := dec.Token()
			if err != nil {
				return nil, err
			}
			label, _ := t.(string)
			if _, twice := record[label]; twice || strings.HasSuffix(label, "_") {
				return nil, errors.New(label)
			}
			if record[label], err = valueByTheLibrary(dec, placeOf(label)); err != nil {
				return nil, err
			}
		}
		if _, err := dec.Token(); err != nil {
			return nil, err
		}
		all = append(all, record)
	}
	if _, err := dec.Token(); err != nil {
		return nil, err
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return nil, errors.New("something follows")
	}
	return all, nil
}

func valueByTheLibrary(dec *json.Decoder, place int) (any, error) {
	if place < 0 {
		var ignored json.RawMessage
		return nil, dec.Decode(&ignored)
	}
	value, err := dec.Token()
	ok := false
	switch {
	case err != nil:
		return nil, err
	case place < firstText:
		_, ok = value.(float64)
	case place < firstFlag:
		_, ok = value.(string)
	default:
		_, ok = value.(bool)
	}
	if !ok {
		return nil, fmt.Errorf("%T", value)
	}
	return value, nil
}

// byOurselves reads the same with a cursor.
func byOurselves(payload []byte) (all []map[string]any, err error) {
	c, f := cursor{payload}, fields{}
	if err := c.expect('['); err != nil {
		return nil, err
	}
	err = c.each(']', func() error {
		if err := f.read(&c); err != nil {
			return err
		}
		record := map[string]any{}
		for _, l := range f.others {
			record[l] = nil
		}
		for i, l := range labels {
			switch {
			case !f.came[i]:
			case i < firstText:
				record[l] = f.numbers[i]
			case i < firstFlag:
				record[l] = f.texts[i-firstText]
			default:
				record[l] = f.flag
			}
		}
		all = append(all, record)
		return nil
	})
	if err == nil && (c.next() != 0 || len(c.rest) > 0) {
		err = errors.New("something follows")
	}
	return all, err
}

// FuzzCursor holds our reader of JSON to the library's: they refuse the same, and
// read the same of what they take.
func FuzzCursor(f *testing.F) {
	for _, pack := range []string{
		rfcSingle, rfcMultiple, rfcTypes, rfcActuator, "", "[]", "[ ] ", "[{}]", "[{},]", "[,]", "[{\"n\":\"a\",}]", "[{\"n\" : \"\\u006e\\n\" }]",
		`[{"v":-0}]`, `[{"v":00}]`, `[{"v":-01}]`, `[{"v":1.}]`, `[{"v":.5}]`, `[{"v":1e}]`, `[{"v":1E+07}]`, `[{"v":1e400}]`, `[{"v":-}]`, `[{"v":+1}]`,
		`[{"vb":true}]`, `[{"vb":tru}]`, `[{"vb":falsey}]`, `[{"x":[1,{"y":2}],"x":1}]`, `[{"x":[1,{"y":2}],"z":null}]`, "[{\"n\":\"a\x01\"}]", `[{"n":"\ud800"}]`,
		`[{"\u006e":"a","n":"b"}]`, `[{"n":"a"}] x`, "[{\"n\":\"a\"}]\x00", `[{"n":"\"}]`, `[{"n":7}]`, `[{"v":null}]`, "[{\"vs\":\"\\\x02\"}]",
	} {
		f.Add([]byte(pack))
	}
	f.Fuzz(func(t *testing.T, payload []byte) {
		if !utf8.Valid(payload) {
			return // parseRecords refuses it before
		}
		want, err1 := byTheLibrary(payload)
		got, err2 := byOurselves(payload)
		if (err1 == nil) != (err2 == nil) {
			t.Fatalf("%q: the library says %v, the cursor %v", payload, err1, err2)
		}
		if err1 == nil && fmt.Sprint(want) != fmt.Sprint(got) {
			t.Fatalf("%q: %v, want %v", payload, got, want)
		}
	})
}
