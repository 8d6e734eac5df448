// Package telemetry carries rounds of readings from a node to the hub so that
// none is lost and none counts twice: SenML packs (RFC 8428) over MQTT, a
// spool on the node's disk, and an acknowledgement that comes from the hub's
// store and not from the broker. FORMAT.md beside this file describes what is
// on the wire.
//
// On the node a Spool keeps rounds and a Courier sends them. At the hub a
// Receiver hands them over as Deliveries. A Broker may run in the same
// process, or be somebody else's.
package telemetry
