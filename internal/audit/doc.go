// Package audit makes the record of a coat: what it was put on with, what it
// went through, how that stands against its label and published practice, and
// what a defect's record supports, contradicts or cannot tell. It is pure: the
// evidence comes in as data, and gaps in it stay gaps.
package audit
