package learn

import "math"

// Every effect is held on one grid of the logarithm of the factor, from a tenth
// to ten times the label. The step is a quarter of the narrowest effect's
// spread, which makes the sums below good to many digits.
const (
	gridStep = 0.025
	gridHalf = 92
	gridSize = 2*gridHalf + 1
)

// curve is a function of the logarithm of the factor. Densities are not
// normalised unless that is said.
type curve [gridSize]float64

func at(i int) float64 { return float64(i-gridHalf) * gridStep }

// fill sets the curve to a function.
func (c *curve) fill(f func(x float64) float64) {
	for i := range c {
		c[i] = f(at(i))
	}
}

func (c *curve) top() float64 {
	top := c[0]
	for _, v := range c {
		top = max(top, v)
	}
	return top
}

// exp turns a curve of logarithms into one that is 1 where they are top.
func (c *curve) exp(top float64) {
	for i, v := range c {
		c[i] = math.Exp(v - top)
	}
}

// expAll does so for curves that belong together: the greatest of all is 1.
func expAll(curves []curve) {
	top := curves[0].top()
	for i := range curves {
		top = max(top, curves[i].top())
	}
	for i := range curves {
		curves[i].exp(top)
	}
}

// addLog adds the logarithm of another curve, so many times.
func (c *curve) addLog(o *curve, times float64) {
	for i, v := range o {
		c[i] += times * math.Log(max(v, math.SmallestNonzeroFloat64))
	}
}

func (c *curve) add(by float64) {
	for i := range c {
		c[i] += by
	}
}

func (c *curve) plus(o *curve) {
	for i, v := range o {
		c[i] += v
	}
}

func (c *curve) mass() float64 {
	sum := 0.0
	for _, v := range c {
		sum += v
	}
	return sum
}

// belief returns the mean and the variance of a density.
func (c *curve) belief() belief {
	var first, second float64
	for i, v := range c {
		x := at(i)
		first += v * x
		second += v * x * x
	}
	mass := c.mass()
	mean := first / mass
	return belief{mean, max(second/mass-mean*mean, 0)}
}

// kernel spreads a curve by a normal distribution.
type kernel []float64 // weights from the middle outwards

// reach is how many standard deviations of a kernel are counted.
const reach = 5

func newKernel(sigma float64) kernel {
	k := make(kernel, min(int(reach*sigma/gridStep)+1, gridSize))
	sum := 0.0
	for i := range k {
		z := float64(i) * gridStep / sigma
		k[i] = math.Exp(-z * z / 2)
		sum += k[i]
		if i > 0 {
			sum += k[i]
		}
	}
	for i := range k {
		k[i] /= sum
	}
	return k
}

// spread returns the curve spread out. Beyond the grid's ends the curve counts
// as level where it is a likelihood, and as zero where it is a density.
func (k kernel) spread(c *curve, level bool) *curve {
	arm := len(k) - 1
	wide := make([]float64, gridSize+2*arm)
	copy(wide[arm:], c[:])
	if level {
		for i := range arm {
			wide[i], wide[arm+gridSize+i] = c[0], c[gridSize-1]
		}
	}
	var out curve
	for i := range out {
		window := wide[i : i+2*arm+1]
		sum := k[0] * window[arm]
		for j := 1; j <= arm; j++ {
			sum += k[j] * (window[arm-j] + window[arm+j])
		}
		out[i] = sum
	}
	return &out
}
