// Package compat says what is known of one coat over another: which must wait,
// which needs abrading or a barrier, and what is better left. It warns and
// never forbids: the label comes first, and where nothing is known it says so.
package compat
