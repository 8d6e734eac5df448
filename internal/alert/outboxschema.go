package alert

import "recoat/internal/sqldb"

// OutboxSchema is what an outbox file is, and the versions that lead to it.
func OutboxSchema() sqldb.Schema { return outboxSchema() }
