package main

import (
	"io"
	"math"
	"os"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
)

// How often a bar is drawn anew, and how wide it is.
const (
	barEvery = 100 * time.Millisecond
	barWidth = 30
	barWhole = 1000
)

// progress returns a way to say how far long work is, from 0 to 1. A bar is drawn
// where a person watches, and taken away when the work is done; a file or a pipe
// gets nothing, and neither does the answer on standard output.
func progress(to io.Writer, what string) func(share float64) {
	f, ok := to.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return func(float64) {}
	}
	return draw(f, what)
}

func draw(to io.Writer, what string) func(share float64) {
	bar := progressbar.NewOptions(barWhole,
		progressbar.OptionSetWriter(to), progressbar.OptionSetDescription(what), progressbar.OptionSetWidth(barWidth),
		progressbar.OptionThrottle(barEvery), progressbar.OptionClearOnFinish(), progressbar.OptionSetPredictTime(true))
	return func(share float64) {
		_ = bar.Set(int(math.Round(barWhole * min(max(share, 0), 1)))) // a terminal that is gone needs no bar
	}
}

// counted gives the share of a whole for work that counts.
func counted(share func(float64)) func(done, of int) {
	return func(done, of int) {
		if of > 0 {
			share(float64(done) / float64(of))
		}
	}
}

// watchedReader tells how much of a file has been read.
type watchedReader struct {
	io.Reader
	read, size int64
	share      func(float64)
}

// watchFile reads a file under a bar.
func watchFile(f *os.File, share func(float64)) (io.Reader, error) {
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	return &watchedReader{Reader: f, size: info.Size(), share: share}, nil
}

func (w *watchedReader) Read(p []byte) (int, error) {
	n, err := w.Reader.Read(p)
	w.read += int64(n)
	if w.size > 0 {
		w.share(float64(w.read) / float64(w.size))
	}
	return n, err
}
