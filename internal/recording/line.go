package recording

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"
)

// errLongLine says that a line was passed over.
var errLongLine = errors.New("the line is too long")

// lineReader reads lines of at most LongestLine bytes.
type lineReader struct {
	r     *bufio.Reader // its buffer is the bound
	count int           // of the lines read
}

// next returns a line without its end and the space around it. It passes over
// a longer one, with an errLongLine. The end of the file is io.EOF.
func (l *lineReader) next() (string, error) {
	line, err := l.r.ReadSlice('\n')
	if len(line) == 0 && errors.Is(err, io.EOF) {
		return "", io.EOF
	}
	l.count++
	if l.count == 1 {
		line = []byte(strings.TrimPrefix(string(line), "\ufeff")) // spreadsheets put one there
	}
	if errors.Is(err, bufio.ErrBufferFull) {
		for errors.Is(err, bufio.ErrBufferFull) {
			_, err = l.r.ReadSlice('\n')
		}
		if err == nil || errors.Is(err, io.EOF) {
			return "", fmt.Errorf("%w: at most %d bytes are read", errLongLine, LongestLine)
		}
	}
	if err != nil && err != io.EOF {
		return "", fmt.Errorf("line %d: %w", l.count, err)
	}
	return strings.TrimSpace(string(line)), nil
}
