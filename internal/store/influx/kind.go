package influx

import "recoat/internal/sqldb"

// QueueSchema is what the file of waiting rounds is, and the versions that lead
// to it.
func QueueSchema() sqldb.Schema { return queueSchema() }
