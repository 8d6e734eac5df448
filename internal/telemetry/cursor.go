package telemetry

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
)

// cursor reads JSON (RFC 8259) from the front. The library's reader of tokens
// does the same at ten times the cost, which is most of what a round costs the
// hub; what is rare is still left to the library.
type cursor struct{ rest []byte }

// next returns the first byte that is not white space, and 0 at the end.
func (c *cursor) next() byte {
	for len(c.rest) > 0 {
		switch b := c.rest[0]; b {
		case ' ', '\t', '\r', '\n':
			c.rest = c.rest[1:]
		default:
			return b
		}
	}
	return 0
}

func (c *cursor) expect(want byte) error {
	if got := c.next(); got != want || len(c.rest) == 0 {
		return c.unexpected(fmt.Sprintf("%q", want))
	}
	c.rest = c.rest[1:]
	return nil
}

func (c *cursor) unexpected(want string) error {
	if c.next() == 0 && len(c.rest) == 0 {
		return fmt.Errorf("want %s, found the end", want)
	}
	return fmt.Errorf("want %s, found %.20q", want, c.rest)
}

// each calls item for every item up to the closing bracket, whose opening one has
// been read.
func (c *cursor) each(closing byte, item func() error) error {
	if c.next() == closing && len(c.rest) > 0 {
		c.rest = c.rest[1:]
		return nil
	}
	for {
		if err := item(); err != nil {
			return err
		}
		if c.next() == ',' {
			c.rest = c.rest[1:]
			continue
		}
		return c.expect(closing)
	}
}

// string reads a string. The payload is known to be UTF-8.
func (c *cursor) string() (string, error) {
	if c.next() != '"' {
		return "", c.unexpected("a string")
	}
	c.rest = c.rest[1:]
	escaped := false
	for i := 0; i < len(c.rest); i++ {
		switch b := c.rest[i]; {
		case b == '"':
			inside := c.rest[:i]
			c.rest = c.rest[i+1:]
			if escaped {
				return unescape(inside)
			}
			return string(inside), nil
		case b < ' ':
			return "", fmt.Errorf("a control character in %.20q", c.rest)
		case b == '\\':
			escaped = true
			i++
		}
	}
	return "", errors.New("a string has no end")
}

func unescape(inside []byte) (s string, err error) {
	return s, json.Unmarshal(append(append([]byte{'"'}, inside...), '"'), &s)
}

// number reads a number that a float64 can hold.
func (c *cursor) number() (float64, error) {
	c.next()
	n := numberLength(c.rest)
	if n == 0 {
		return 0, c.unexpected("a number")
	}
	text := c.rest[:n]
	c.rest = c.rest[n:]
	return strconv.ParseFloat(string(text), 64)
}

// numberLength is how long the number is that text begins with, 0 where it begins
// with none (RFC 8259, section 6).
func numberLength(text []byte) int {
	digits := func(i int) int {
		from := i
		for i < len(text) && text[i] >= '0' && text[i] <= '9' {
			i++
		}
		if i == from {
			return 0
		}
		return i
	}
	i := 0
	if len(text) > 0 && text[0] == '-' {
		i = 1
	}
	zero := i < len(text) && text[i] == '0'
	if i = digits(i); i == 0 || zero && i > 2 || zero && i == 2 && text[0] != '-' {
		return 0
	}
	if i < len(text) && text[i] == '.' {
		if i = digits(i + 1); i == 0 {
			return 0
		}
	}
	if i < len(text) && (text[i] == 'e' || text[i] == 'E') {
		i++
		if i < len(text) && (text[i] == '+' || text[i] == '-') {
			i++
		}
		i = digits(i)
	}
	return i
}

func (c *cursor) bool() (bool, error) {
	c.next()
	for _, v := range []bool{true, false} {
		if rest, ok := bytes.CutPrefix(c.rest, strconv.AppendBool(nil, v)); ok {
			c.rest = rest
			return v, nil
		}
	}
	return false, c.unexpected("true or false")
}

// skip passes over a value of any kind.
func (c *cursor) skip() error {
	dec := json.NewDecoder(bytes.NewReader(c.rest))
	var ignored json.RawMessage
	if err := dec.Decode(&ignored); err != nil {
		return err
	}
	c.rest = c.rest[dec.InputOffset():]
	return nil
}
