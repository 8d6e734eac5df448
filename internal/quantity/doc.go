// Package quantity reads and writes quantities the way people write them on
// labels and command lines: "20C", "60%", "4mil", "0.1m/s", "1h30m". A number
// without its unit is refused, for 20 °C and 20 °F are both in use. Every
// error names the text it could not take and what would be right.
//
// Formatted text is always read back as the same value.
package quantity
