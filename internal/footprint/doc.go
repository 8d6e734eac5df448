// Package footprint gives back to the system what of the program itself lies in
// memory and is not in use.
package footprint
