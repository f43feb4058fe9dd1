-- The gloves of a batch laid on cloth. `wanted` and `cloths` are JSON: what was asked, and what to
-- buy of each fabric.
CREATE TABLE lay (
    id BLOB PRIMARY KEY,
    batch BLOB NOT NULL REFERENCES batch ON DELETE CASCADE,
    wanted TEXT NOT NULL,
    state TEXT NOT NULL DEFAULT 'running'
        CHECK (state IN ('running', 'done', 'failed', 'cancelled')),
    message TEXT NOT NULL DEFAULT '',
    cloths TEXT NOT NULL DEFAULT '[]',
    started_by TEXT NOT NULL,
    started_ms INTEGER NOT NULL,
    ended_ms INTEGER
) STRICT;
CREATE INDEX lay_batch ON lay (batch);
