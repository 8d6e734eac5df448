package sqlite

import "recoat/internal/sqldb"

// schema is described in FORMAT.md. Migrations that have been released are
// never edited.
func schema() sqldb.Schema {
	return sqldb.Schema{ApplicationID: 0x72637231, Migrations: []string{`
CREATE TABLE node(
	id   INTEGER PRIMARY KEY,
	room TEXT NOT NULL,
	name TEXT NOT NULL,
	UNIQUE(room, name)
) STRICT;
CREATE TABLE boot(
	id   INTEGER PRIMARY KEY,
	node INTEGER NOT NULL REFERENCES node(id),
	name TEXT NOT NULL,
	UNIQUE(node, name)
) STRICT;
CREATE TABLE layout(
	id       INTEGER PRIMARY KEY,
	channels TEXT NOT NULL UNIQUE
) STRICT;
CREATE TABLE round(
	id   INTEGER PRIMARY KEY,
	at   INTEGER NOT NULL,
	data BLOB NOT NULL
) STRICT;
CREATE TABLE block(
	id INTEGER PRIMARY KEY,
	lo INTEGER NOT NULL,
	hi INTEGER NOT NULL
) STRICT;
CREATE INDEX block_time ON block(hi, lo);
CREATE TABLE series(
	id      INTEGER PRIMARY KEY,
	node    INTEGER NOT NULL REFERENCES node(id),
	channel TEXT NOT NULL,
	UNIQUE(node, channel)
) STRICT;
CREATE TABLE rollup(
	width  INTEGER NOT NULL,
	start  INTEGER NOT NULL,
	series INTEGER NOT NULL REFERENCES series(id),
	good   INTEGER NOT NULL,
	other  INTEGER NOT NULL,
	lo     INTEGER,
	hi     INTEGER,
	sum    INTEGER NOT NULL,
	PRIMARY KEY(width, start, series)
) STRICT, WITHOUT ROWID;
`, `
CREATE TABLE segment(
	id   INTEGER PRIMARY KEY,
	data BLOB NOT NULL
) STRICT;
`}}
}
