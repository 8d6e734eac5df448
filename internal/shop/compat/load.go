package compat

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"

	"recoat/internal/quantity"
)

// What a file of own rules may hold.
const (
	maxFile     = 64 << 10 // bytes
	mostRules   = 200
	longestNote = 500 // runes
	mostTimes   = 100
)

// written is one rule of such a file.
type written struct {
	Below     []Class  `toml:"below"`
	Above     []Class  `toml:"above"`
	Do        []string `toml:"do"`
	WaitTimes float64  `toml:"wait_times"`
	Wait      string   `toml:"wait"`
	Until     string   `toml:"until"`
	Note      string   `toml:"note"`
}

// LoadRules reads the finisher's own rules from TOML, a [[rule]] for each:
//
//	[[rule]]
//	below = ["oil-stain"]
//	above = ["waterborne"]
//	do = ["wait", "barrier"]
//	wait_times = 4       # times the lower one's recoat time
//	wait = "72h"         # and at least so long
//	until = "a white cloth takes no colour up"
//	note = "held on three boards in spring"
//
// An error starts with name and says what was wrong and what would be right.
func LoadRules(r io.Reader, name string) ([]Rule, error) {
	text, err := io.ReadAll(io.LimitReader(r, maxFile+1))
	if err != nil {
		return nil, fmt.Errorf("read the rules of %s: %w", name, err)
	}
	if len(text) > maxFile {
		return nil, fmt.Errorf("%s: the file is larger than %d KiB: a rule has a few lines", name, maxFile>>10)
	}
	var file struct {
		Rule []written `toml:"rule"`
	}
	if err := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields().Decode(&file); err != nil {
		return nil, fmt.Errorf("%s: %w", name, place(err))
	}
	if len(file.Rule) > mostRules {
		return nil, fmt.Errorf("%s: %d rules: at most %d are taken", name, len(file.Rule), mostRules)
	}
	var all []Rule
	for i, w := range file.Rule {
		rule, err := w.rule()
		if err != nil {
			return nil, fmt.Errorf("%s: rule %d: %w", name, i+1, err)
		}
		all = append(all, rule)
	}
	return all, nil
}

// place says on which line the decoder stumbled.
func place(err error) error {
	var unknown *toml.StrictMissingError
	if errors.As(err, &unknown) && len(unknown.Errors) > 0 {
		e := &unknown.Errors[0]
		line, _ := e.Position()
		return fmt.Errorf("line %d: %s is not a key of a rule: the keys are below, above, do, wait_times, wait, until, note", line, quantity.Quote(strings.Join(e.Key(), ".")))
	}
	var bad *toml.DecodeError
	if errors.As(err, &bad) {
		line, _ := bad.Position()
		return fmt.Errorf("line %d cannot be read: %s", line, strings.TrimPrefix(bad.Error(), "toml: "))
	}
	return err
}

func (w written) rule() (Rule, error) {
	r := Rule{Note: w.Note, Reason: FinisherOwn, Confidence: Medium, Source: "your own rule"}
	var err error
	if r.Below, err = concrete("below", w.Below); err != nil {
		return Rule{}, err
	}
	if r.Above, err = concrete("above", w.Above); err != nil {
		return Rule{}, err
	}
	for _, name := range w.Do {
		m, err := ParseMeasure(name)
		if err != nil {
			return Rule{}, fmt.Errorf("do: %w", err)
		}
		r.Do |= m
	}
	if r.Do == 0 {
		return Rule{}, fmt.Errorf("do is missing: say what to do, such as do = [\"wait\"], or do = [\"ok\"]")
	}
	if r.Wait, err = w.span(); err != nil {
		return Rule{}, err
	}
	if r.Do.Has(Wait) != (r.Wait != Span{}) {
		return Rule{}, fmt.Errorf("\"wait\" stands in do exactly where wait_times, wait or until say how long")
	}
	for _, text := range []string{w.Note, w.Until} {
		if utf8.RuneCountInString(text) > longestNote {
			return Rule{}, fmt.Errorf("a text has %d characters: at most %d fit", utf8.RuneCountInString(text), longestNote)
		}
	}
	return r, nil
}

func (w written) span() (s Span, err error) {
	if !(w.WaitTimes >= 0 && w.WaitTimes <= mostTimes) {
		return Span{}, fmt.Errorf("wait_times of %v cannot be: 0 to %d", w.WaitTimes, mostTimes)
	}
	s = Span{Times: w.WaitTimes, Until: strings.TrimSpace(w.Until)}
	if w.Wait != "" {
		if s.For, err = quantity.ParseDuration(w.Wait); err != nil {
			return Span{}, fmt.Errorf("wait: %w", err)
		}
	}
	return s, nil
}

// concrete returns every class that the ones of a key may be.
func concrete(key string, classes []Class) ([]Class, error) {
	if len(classes) == 0 {
		return nil, fmt.Errorf("%s is missing: name one class or more, such as %s = [\"alkyd\"]", key, key)
	}
	var all []Class
	for _, c := range classes {
		if _, err := ParseClass(string(c)); err != nil {
			return nil, fmt.Errorf("%s: %w", key, err)
		}
		all = append(all, c.may()...)
	}
	slices.Sort(all)
	return slices.Compact(all), nil
}

// ParseClass returns the class of that name.
func ParseClass(name string) (Class, error) {
	if slices.Contains(Classes(), Class(name)) {
		return Class(name), nil
	}
	names := make([]string, len(Classes()))
	for i, c := range Classes() {
		names[i] = string(c)
	}
	return "", fmt.Errorf("%s is no class of layer: one of %s would do", quantity.Quote(name), strings.Join(names, ", "))
}

// OpenTable returns the rules that are known, with the finisher's own before
// them if there is a file of such at path.
func OpenTable(path string) (Table, error) {
	f, err := os.Open(path)
	if errors.Is(err, os.ErrNotExist) {
		return NewTable(), nil
	}
	if err != nil {
		return Table{}, fmt.Errorf("open the rules: %w", err)
	}
	defer func() { _ = f.Close() }() // it was only read
	own, err := LoadRules(f, path)
	return NewTable(own...), err
}
