-- A test glove tried on: a fact, added or withdrawn, never changed. The verdict (JSON) is what was
-- said; the glove (JSON) is what it was drafted from.
CREATE TABLE fitting (
    id BLOB PRIMARY KEY,
    performer BLOB NOT NULL REFERENCES performer ON DELETE CASCADE,
    side TEXT NOT NULL CHECK (side IN ('left', 'right')),
    version BLOB NOT NULL REFERENCES draft_version ON DELETE CASCADE,
    fabric BLOB REFERENCES fabric ON DELETE SET NULL,
    verdict TEXT NOT NULL,
    glove TEXT NOT NULL,
    note TEXT NOT NULL,
    measurer TEXT NOT NULL,
    device TEXT NOT NULL,
    taken_ms INTEGER NOT NULL,
    received_ms INTEGER NOT NULL
) STRICT;
CREATE INDEX fitting_performer ON fitting (performer);
CREATE INDEX fitting_fabric ON fitting (fabric);

CREATE TABLE fitting_withdrawal (
    fitting BLOB PRIMARY KEY REFERENCES fitting ON DELETE CASCADE,
    reason TEXT NOT NULL,
    measurer TEXT NOT NULL,
    at_ms INTEGER NOT NULL
) STRICT;

-- Changes of the next glove set by hand (JSON, mm by zone); the latest that was not undone counts.
CREATE TABLE fitting_edit (
    id BLOB PRIMARY KEY,
    performer BLOB NOT NULL REFERENCES performer ON DELETE CASCADE,
    side TEXT NOT NULL CHECK (side IN ('left', 'right')),
    fabric BLOB REFERENCES fabric ON DELETE SET NULL,
    zones TEXT NOT NULL,
    made_by TEXT NOT NULL,
    made_ms INTEGER NOT NULL,
    undone_ms INTEGER
) STRICT;
CREATE INDEX fitting_edit_performer ON fitting_edit (performer);

-- Where a fabric's memory begins: a reset, or what it was copied with (JSON, the memory of the other
-- fabric, of no one person). Fittings received before do not count.
CREATE TABLE fabric_beginning (
    fabric BLOB NOT NULL REFERENCES fabric ON DELETE CASCADE,
    inherited TEXT,
    made_by TEXT NOT NULL,
    made_ms INTEGER NOT NULL
) STRICT;
CREATE INDEX fabric_beginning_fabric ON fabric_beginning (fabric);
