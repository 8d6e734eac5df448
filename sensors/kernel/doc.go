// Package kernel reads sensors that Linux drives itself and shows as files. All
// paths are below a root that stands for the root of the file system, so that a
// folder can take its place.
package kernel
