package forecast

import "fmt"

// Quantity is one of those that are forecast, all in °C.
type Quantity uint8

// The quantities, in the order of every list of them.
const (
	Air Quantity = iota
	DewPoint
	Surface
)

// quantityCount is how many there are.
const quantityCount = 3

// String names the quantity as the columns of files do.
func (q Quantity) String() string {
	switch q {
	case Air:
		return "air"
	case DewPoint:
		return "dew_point"
	case Surface:
		return "surface"
	}
	return fmt.Sprintf("quantity %d", uint8(q))
}
