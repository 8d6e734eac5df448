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
`, `
ALTER TABLE change ADD COLUMN who  TEXT NOT NULL DEFAULT ''; -- empty: the finisher
ALTER TABLE change ADD COLUMN tap  TEXT NOT NULL DEFAULT ''; -- the id that a page gave it; empty: none
ALTER TABLE change ADD COLUMN made INTEGER;                  -- on the page's own clock; NULL: not told
CREATE UNIQUE INDEX change_tap ON change(tap) WHERE tap <> '';
CREATE INDEX change_subject ON change(subject, seq);

ALTER TABLE piece ADD COLUMN note      TEXT NOT NULL DEFAULT '';
ALTER TABLE piece ADD COLUMN client    TEXT NOT NULL DEFAULT ''; -- for the finisher alone: it is never sent or printed
ALTER TABLE piece ADD COLUMN photo     TEXT NOT NULL DEFAULT ''; -- a file in the folder of photos; empty: none
ALTER TABLE piece ADD COLUMN search    TEXT NOT NULL DEFAULT ''; -- what it is found by, in small letters
ALTER TABLE piece ADD COLUMN delivered INTEGER; -- NULL: it is not
ALTER TABLE piece ADD COLUMN archived  INTEGER; -- NULL: it is not
CREATE INDEX piece_shown ON piece(id) WHERE archived IS NULL;
CREATE INDEX part_room ON part(room) WHERE room IS NOT NULL;

DROP INDEX product_name;
CREATE INDEX product_named ON product(name);
ALTER TABLE product ADD COLUMN archived INTEGER; -- of every version at once
ALTER TABLE mix ADD COLUMN archived INTEGER;
ALTER TABLE can ADD COLUMN archived INTEGER;
ALTER TABLE touch ADD COLUMN undone INTEGER;

ALTER TABLE coat ADD COLUMN step          INTEGER NOT NULL DEFAULT 0; -- of the part's schedule; 0: none
ALTER TABLE coat ADD COLUMN film_least_um REAL NOT NULL DEFAULT 0; -- between which a gauge says the film
ALTER TABLE coat ADD COLUMN film_most_um  REAL NOT NULL DEFAULT 0; -- lies; both 0: no gauge
ALTER TABLE coat ADD COLUMN area_m2       REAL NOT NULL DEFAULT 0; -- 0: not known
ALTER TABLE coat ADD COLUMN thinned_pct   REAL NOT NULL DEFAULT 0; -- thinner, as a share of the paint's volume
ALTER TABLE coat ADD COLUMN over          TEXT NOT NULL DEFAULT ''; -- class of what lies below, as told; empty: not told
ALTER TABLE coat ADD COLUMN class         TEXT NOT NULL DEFAULT ''; -- class of this one, as told
ALTER TABLE coat ADD COLUMN warned        TEXT NOT NULL DEFAULT ''; -- what was warned of, a line for each
ALTER TABLE coat ADD COLUMN reason        TEXT NOT NULL DEFAULT ''; -- why that was passed over
CREATE INDEX coat_part ON coat(piece, part, applied);
CREATE INDEX coat_applied ON coat(applied);
CREATE INDEX coat_product ON coat(product);
CREATE INDEX coat_batch ON coat(batch COLLATE NOCASE) WHERE batch <> '';

CREATE TABLE schedule(
	piece    INTEGER NOT NULL,
	part     INTEGER NOT NULL,
	template TEXT NOT NULL, -- it began as; empty: none
	steps    TEXT NOT NULL, -- JSON, in order
	PRIMARY KEY (piece, part),
	FOREIGN KEY (piece, part) REFERENCES part(piece, number)
) STRICT;
CREATE TABLE tick(
	id      INTEGER PRIMARY KEY,
	piece   INTEGER NOT NULL,
	part    INTEGER NOT NULL,
	step    INTEGER NOT NULL,
	at      INTEGER NOT NULL,
	skipped INTEGER NOT NULL, -- 1: the step was left out
	undone  INTEGER,          -- NULL: it holds
	FOREIGN KEY (piece, part) REFERENCES part(piece, number)
) STRICT;
CREATE UNIQUE INDEX tick_once ON tick(piece, part, step) WHERE undone IS NULL;
CREATE TABLE moisture(
	id       INTEGER PRIMARY KEY,
	piece    INTEGER NOT NULL,
	part     INTEGER NOT NULL,
	at       INTEGER NOT NULL,
	wood_pct REAL NOT NULL,
	depth_mm REAL NOT NULL, -- 0: not known
	note     TEXT NOT NULL,
	FOREIGN KEY (piece, part) REFERENCES part(piece, number)
) STRICT;
CREATE INDEX moisture_part ON moisture(piece, part, at);
CREATE TABLE reminder(
	coat   INTEGER PRIMARY KEY REFERENCES coat(id), -- its oily rags
	opened INTEGER NOT NULL,
	ticked INTEGER -- NULL: not yet
) STRICT;
`}}

// Schema is what a journal file is, and the versions that lead to it.
func Schema() sqldb.Schema { return schema }
