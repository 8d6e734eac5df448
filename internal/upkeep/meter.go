package upkeep

import (
	"os"
	"time"

	"recoat/internal/sqldb"
)

// lookAtCopy is how often it is seen how far a copy is: SQLite itself does not
// say.
const lookAtCopy = 200 * time.Millisecond

// meter says how far work on several files is, by their sizes.
type meter struct {
	tell        func(share float64)
	left        []int64 // of the files that are still to do
	done, whole int64
}

// meter measures the files, each at the path that from gives.
func (k Keeper) meter(from func(File) string, files []File) *meter {
	m := &meter{tell: k.Progress}
	if m.tell == nil {
		m.tell = func(float64) {}
	}
	for _, f := range files {
		size := sizeOf(from(f)) + 1 // of nothing, nothing is a share
		m.left = append(m.left, size)
		m.whole += size
	}
	return m
}

// during tells how far the next file is while do makes a copy of it at path, and
// that it is done.
func (m *meter) during(path string, do func() error) error {
	size := m.left[0]
	m.left = m.left[1:]
	stop, stopped := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		look := time.NewTicker(lookAtCopy)
		defer look.Stop()
		for {
			select {
			case <-stop:
				return
			case <-look.C:
				m.tell(float64(m.done+min(size, sizeOf(sqldb.Making(path)))) / float64(m.whole))
			}
		}
	}()
	err := do()
	close(stop)
	<-stopped
	m.done += size
	m.tell(float64(m.done) / float64(m.whole))
	return err
}

// sizeOf is how many bytes a file has; 0 where there is none.
func sizeOf(path string) int64 {
	info, err := os.Stat(path)
	if err != nil {
		return 0
	}
	return info.Size()
}
