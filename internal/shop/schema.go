package shop

import "recoat/internal/sqldb"

// schema is what a journal file holds. Times are milliseconds since 1970 UTC.
// Rows of change can be added, but neither altered nor taken out.
var schema = sqldb.Schema{ApplicationID: 0x72634a6e, Migrations: []string{`
CREATE TABLE room(
	id     TEXT PRIMARY KEY,
	title  TEXT NOT NULL,
	limits TEXT NOT NULL, -- the [limits] of a product file; empty: none of its own
	added  INTEGER NOT NULL
) STRICT;

CREATE TABLE product(
	id      INTEGER NOT NULL,
	version INTEGER NOT NULL,
	name    TEXT NOT NULL,
	label   TEXT NOT NULL, -- a product file with what was assumed written out
	assumed TEXT NOT NULL, -- the keys that were, with a space between them
	added   INTEGER NOT NULL,
	PRIMARY KEY (id, version)
) STRICT;
CREATE UNIQUE INDEX product_name ON product(name, version);

CREATE TABLE piece(
	id    INTEGER PRIMARY KEY,
	name  TEXT NOT NULL,
	added INTEGER NOT NULL
) STRICT;

CREATE TABLE part(
	piece        INTEGER NOT NULL REFERENCES piece(id),
	number       INTEGER NOT NULL,
	name         TEXT NOT NULL,
	material     TEXT NOT NULL,
	thickness_mm REAL NOT NULL, -- 0: not known
	room         TEXT REFERENCES room(id), -- NULL: in none
	probe        TEXT NOT NULL, -- empty: none on it
	PRIMARY KEY (piece, number)
) STRICT;
CREATE UNIQUE INDEX part_probe ON part(room, probe) WHERE probe <> '';

CREATE TABLE coat(
	id       INTEGER PRIMARY KEY,
	piece    INTEGER NOT NULL,
	part     INTEGER NOT NULL,
	product  INTEGER NOT NULL,
	version  INTEGER NOT NULL,
	room     TEXT NOT NULL REFERENCES room(id), -- where it was put on
	applied  INTEGER NOT NULL,
	film_um  REAL NOT NULL, -- 0: not measured
	method   TEXT NOT NULL,
	batch    TEXT NOT NULL,
	mix      TEXT NOT NULL,
	recorded INTEGER NOT NULL,
	undone   INTEGER, -- NULL: it holds
	FOREIGN KEY (piece, part) REFERENCES part(piece, number),
	FOREIGN KEY (product, version) REFERENCES product(id, version)
) STRICT;
CREATE UNIQUE INDEX coat_once ON coat(piece, part, applied) WHERE undone IS NULL;

CREATE TABLE touch(
	id   INTEGER PRIMARY KEY,
	coat INTEGER NOT NULL REFERENCES coat(id),
	at   INTEGER NOT NULL,
	feel TEXT NOT NULL
) STRICT;
CREATE INDEX touch_coat ON touch(coat, at);

CREATE TABLE change(
	seq     INTEGER PRIMARY KEY AUTOINCREMENT,
	at      INTEGER NOT NULL,
	what    TEXT NOT NULL,
	subject TEXT NOT NULL,
	before  TEXT NOT NULL,
	after   TEXT NOT NULL
) STRICT;
CREATE TRIGGER change_kept BEFORE UPDATE ON change
BEGIN SELECT RAISE(ABORT, 'the record of changes is never altered'); END;
CREATE TRIGGER change_whole BEFORE DELETE ON change
BEGIN SELECT RAISE(ABORT, 'nothing is taken out of the record of changes'); END;
`, `
ALTER TABLE coat ADD COLUMN abraded INTEGER NOT NULL DEFAULT 0; -- 1: what lay below was
ALTER TABLE coat ADD COLUMN note    TEXT NOT NULL DEFAULT '';
`, `
CREATE TABLE mix(
	id    INTEGER PRIMARY KEY,
	name  TEXT NOT NULL,
	basis TEXT NOT NULL,
	added INTEGER NOT NULL
) STRICT;
CREATE TABLE mix_part(
	mix    INTEGER NOT NULL REFERENCES mix(id),
	number INTEGER NOT NULL,
	name   TEXT NOT NULL,
	share  TEXT NOT NULL, -- an exact fraction, such as 3/2
	PRIMARY KEY (mix, number)
) STRICT;
ALTER TABLE coat ADD COLUMN recipe INTEGER REFERENCES mix(id); -- NULL: none
`, `
CREATE TABLE can(
	id         INTEGER PRIMARY KEY,
	product    INTEGER NOT NULL, -- whatever its version
	batch      TEXT NOT NULL,
	amount_ml  REAL NOT NULL,    -- before the coats that were put on out of it
	best_by    INTEGER,          -- NULL: not known
	keeps_days INTEGER NOT NULL, -- once opened; 0: not known
	opened     INTEGER,          -- NULL: it is not
	added      INTEGER NOT NULL
) STRICT;
ALTER TABLE coat ADD COLUMN can     INTEGER REFERENCES can(id); -- NULL: not known
ALTER TABLE coat ADD COLUMN used_ml REAL NOT NULL DEFAULT 0;    -- 0: not known
CREATE INDEX coat_can ON coat(can) WHERE can IS NOT NULL;
`, `
CREATE TABLE calibration(
	id      INTEGER PRIMARY KEY,
	room    TEXT NOT NULL,
	node    TEXT NOT NULL,
	channel TEXT NOT NULL,    -- such as relative-humidity
	since   INTEGER NOT NULL, -- readings from here on are corrected
	gain    REAL NOT NULL,
	"offset" REAL NOT NULL,
	sigma   REAL NOT NULL,    -- standard uncertainty of a corrected value
	method  TEXT NOT NULL,
	who     TEXT NOT NULL,
	due     INTEGER NOT NULL, -- the next check
	note    TEXT NOT NULL,
	added   INTEGER NOT NULL,
	undone  INTEGER           -- NULL: it holds
) STRICT;
CREATE TABLE defect(
	id     INTEGER PRIMARY KEY,
	coat   INTEGER NOT NULL REFERENCES coat(id),
	seen   INTEGER NOT NULL,
	kind   TEXT NOT NULL,
	place  TEXT NOT NULL, -- where on the part
	note   TEXT NOT NULL,
	photo  TEXT NOT NULL, -- the file's SHA-256 in hexadecimal, its name too; empty: none
	added  INTEGER NOT NULL,
	undone INTEGER        -- NULL: it holds
) STRICT;
CREATE INDEX defect_coat ON defect(coat);
`}}

// Schema is what a journal file is, and the versions that lead to it.
func Schema() sqldb.Schema { return schema }
