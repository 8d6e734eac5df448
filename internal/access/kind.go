package access

import "recoat/internal/sqldb"

// Schema is what a file of accounts is, and the versions that lead to it.
func Schema() sqldb.Schema { return schema() }
