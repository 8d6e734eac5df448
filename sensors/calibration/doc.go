// Package calibration says what a check of a sensor against something known
// makes of its readings: the saturated-salt and the ice-point check, the
// correction that follows, and how uncertain a corrected value is. It is pure;
// raw readings are kept as they came, and corrected where they are used.
package calibration
