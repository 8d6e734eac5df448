// Package access decides who may use the pages and which nodes may speak to
// the broker: accounts with a password, sessions, the claim of a new shop by
// its owner, a brake on guessing, and a book of log-ins. It keeps no password
// and no session's secret, only what they are checked against.
package access
