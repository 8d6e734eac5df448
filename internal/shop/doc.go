// Package shop is the finisher's side of recoat: products as their labels
// state them, the rooms, the pieces and their parts, the coats put on and the
// touch tests made, kept in a journal whose history cannot be changed quietly.
package shop
