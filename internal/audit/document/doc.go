// Package document writes the record of a coat as PDF, as one HTML file, as
// CSV and as JSON. All of them say the same: the text is made once, and figures
// have the same digits everywhere.
package document
