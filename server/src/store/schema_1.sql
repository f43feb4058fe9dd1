CREATE TABLE account (
    id BLOB PRIMARY KEY,
    name TEXT NOT NULL UNIQUE COLLATE NOCASE,
    role TEXT NOT NULL CHECK (role IN ('administrator', 'supervisor', 'cutter', 'measurer')),
    passphrase_hash TEXT,
    created_ms INTEGER NOT NULL
) STRICT;

CREATE TABLE sign_in_link (
    token_hash BLOB PRIMARY KEY,
    account BLOB NOT NULL REFERENCES account ON DELETE CASCADE,
    expires_ms INTEGER NOT NULL
) STRICT;

CREATE TABLE session (
    token_hash BLOB PRIMARY KEY,
    account BLOB NOT NULL REFERENCES account ON DELETE CASCADE,
    csrf TEXT NOT NULL,
    created_ms INTEGER NOT NULL,
    seen_ms INTEGER NOT NULL
) STRICT;
CREATE INDEX session_account ON session (account);

CREATE TABLE production (
    id BLOB PRIMARY KEY,
    name TEXT NOT NULL UNIQUE COLLATE NOCASE,
    created_ms INTEGER NOT NULL
) STRICT;

CREATE TABLE fabric (
    id BLOB PRIMARY KEY,
    production BLOB NOT NULL REFERENCES production ON DELETE CASCADE,
    name TEXT NOT NULL COLLATE NOCASE,
    note TEXT NOT NULL DEFAULT '',
    -- Share taken off the girth by zone; NULL until the stretch test is entered.
    palm REAL, wrist REAL, fingers REAL, thumb REAL,
    -- The stretch test as entered, JSON, for whoever works out the ease from it.
    test TEXT,
    UNIQUE (production, name)
) STRICT;

CREATE TABLE performer (
    id BLOB PRIMARY KEY,
    production BLOB NOT NULL REFERENCES production ON DELETE CASCADE,
    code TEXT NOT NULL COLLATE NOCASE,
    name TEXT NOT NULL DEFAULT '',
    population TEXT NOT NULL,
    fabric BLOB REFERENCES fabric ON DELETE SET NULL,
    note TEXT NOT NULL DEFAULT '',
    position INTEGER NOT NULL,
    created_ms INTEGER NOT NULL,
    UNIQUE (production, code)
) STRICT;

-- Readings are facts: added, never changed. A later row in withdrawal takes one out of use.
CREATE TABLE reading (
    id BLOB PRIMARY KEY,
    performer BLOB NOT NULL REFERENCES performer ON DELETE CASCADE,
    side TEXT NOT NULL CHECK (side IN ('left', 'right')),
    dimension TEXT NOT NULL,
    typed TEXT NOT NULL,
    unit TEXT NOT NULL CHECK (unit IN ('mm', 'cm', 'in')),
    mm REAL NOT NULL CHECK (mm > 0),
    instrument TEXT NOT NULL,
    origin TEXT NOT NULL CHECK (origin IN ('form', 'repair', 'import', 'self')),
    measurer TEXT NOT NULL,
    device TEXT NOT NULL,
    taken_ms INTEGER NOT NULL,
    received_ms INTEGER NOT NULL
) STRICT;
CREATE INDEX reading_performer ON reading (performer);

CREATE TABLE withdrawal (
    reading BLOB PRIMARY KEY REFERENCES reading ON DELETE CASCADE,
    reason TEXT NOT NULL,
    measurer TEXT NOT NULL,
    at_ms INTEGER NOT NULL
) STRICT;

-- A flag looked at and kept. Evidence is the medians it spoke of: other medians, another flag.
CREATE TABLE acceptance (
    id BLOB PRIMARY KEY,
    performer BLOB NOT NULL REFERENCES performer ON DELETE CASCADE,
    flag TEXT NOT NULL,
    evidence TEXT NOT NULL,
    reason TEXT NOT NULL,
    measurer TEXT NOT NULL,
    at_ms INTEGER NOT NULL
) STRICT;
CREATE INDEX acceptance_performer ON acceptance (performer);

CREATE TABLE skip (
    id BLOB PRIMARY KEY,
    performer BLOB NOT NULL REFERENCES performer ON DELETE CASCADE,
    side TEXT NOT NULL CHECK (side IN ('left', 'right')),
    dimension TEXT NOT NULL,
    reason TEXT NOT NULL,
    measurer TEXT NOT NULL,
    at_ms INTEGER NOT NULL
) STRICT;
CREATE INDEX skip_performer ON skip (performer);

CREATE TABLE batch (
    id BLOB PRIMARY KEY,
    production BLOB NOT NULL REFERENCES production ON DELETE CASCADE,
    paper TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('running', 'done', 'failed')),
    done INTEGER NOT NULL DEFAULT 0,
    total INTEGER NOT NULL DEFAULT 0,
    message TEXT NOT NULL DEFAULT '',
    started_by TEXT NOT NULL,
    started_ms INTEGER NOT NULL,
    ended_ms INTEGER
) STRICT;
CREATE INDEX batch_production ON batch (production);
