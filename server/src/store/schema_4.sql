-- A version of a performer's gloves: everything their drafts follow from, frozen, so that the same
-- version can be made again to the byte.
CREATE TABLE draft_version (
    id BLOB PRIMARY KEY,
    performer BLOB NOT NULL REFERENCES performer ON DELETE CASCADE,
    number INTEGER NOT NULL,
    inputs TEXT NOT NULL,
    date TEXT NOT NULL,
    made_ms INTEGER NOT NULL,
    UNIQUE (performer, number)
) STRICT;

-- The same table, with the state 'cancelled'.
CREATE TABLE batch_new (
    id BLOB PRIMARY KEY,
    production BLOB NOT NULL REFERENCES production ON DELETE CASCADE,
    paper TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('running', 'done', 'failed', 'cancelled')),
    done INTEGER NOT NULL DEFAULT 0,
    total INTEGER NOT NULL DEFAULT 0,
    message TEXT NOT NULL DEFAULT '',
    started_by TEXT NOT NULL,
    started_ms INTEGER NOT NULL,
    ended_ms INTEGER
) STRICT;
INSERT INTO batch_new SELECT id, production, paper, state, done, total, message, started_by,
    started_ms, ended_ms FROM batch;
DROP TABLE batch;
ALTER TABLE batch_new RENAME TO batch;
CREATE INDEX batch_production ON batch (production);

-- One performer of a batch. What became of them (JSON) is written once their files are.
CREATE TABLE batch_item (
    batch BLOB NOT NULL REFERENCES batch ON DELETE CASCADE,
    position INTEGER NOT NULL,
    version BLOB NOT NULL REFERENCES draft_version ON DELETE CASCADE,
    stem TEXT NOT NULL,
    result TEXT,
    PRIMARY KEY (batch, position)
) STRICT;
CREATE INDEX batch_item_version ON batch_item (version);
