package access

import "recoat/internal/sqldb"

// schema: times are milliseconds since 1970 in UTC. Secrets are kept as hashes:
// argon2id of what people choose, SHA-256 of what was drawn at random.
func schema() sqldb.Schema {
	return sqldb.Schema{ApplicationID: 0x72636163, Migrations: []string{`
CREATE TABLE account(
	name TEXT PRIMARY KEY, -- in small letters
	role TEXT NOT NULL,
	hash TEXT NOT NULL,
	added INTEGER NOT NULL
) WITHOUT ROWID;
CREATE TABLE session(
	digest BLOB PRIMARY KEY,
	name TEXT NOT NULL REFERENCES account(name) ON DELETE CASCADE,
	began INTEGER NOT NULL,
	seen INTEGER NOT NULL
) WITHOUT ROWID;
CREATE TABLE node(
	room TEXT NOT NULL, node TEXT NOT NULL,
	digest BLOB NOT NULL,
	added INTEGER NOT NULL,
	PRIMARY KEY(room, node)
) WITHOUT ROWID;
CREATE TABLE entry(
	seq INTEGER PRIMARY KEY,
	at INTEGER NOT NULL,
	what TEXT NOT NULL,
	who TEXT NOT NULL,
	origin TEXT NOT NULL
);
`}}
}
