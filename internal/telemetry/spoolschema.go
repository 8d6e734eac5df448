package telemetry

import "recoat/internal/sqldb"

// SpoolSchema is what a spool file is, and the versions that lead to it.
func SpoolSchema() sqldb.Schema { return spoolSchema() }
