// Package seal makes later changes to readings and to the journal visible. A
// seal holds a hash of all rounds of one room and day, or of every row of the
// journal; each seal holds the hash of the one before. Rounds that come late
// are sealed anew, with what was added: nothing is taken over silently.
// VERIFY.md says what this proves and what it does not.
package seal
