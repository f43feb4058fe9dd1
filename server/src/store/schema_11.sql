-- Whoever was left out of a batch to be measured again, with their line of its call sheet (JSON).
CREATE TABLE batch_again (
    batch BLOB NOT NULL REFERENCES batch ON DELETE CASCADE,
    position INTEGER NOT NULL,
    performer BLOB NOT NULL REFERENCES performer ON DELETE CASCADE,
    line TEXT NOT NULL,
    PRIMARY KEY (batch, position)
) STRICT;
CREATE INDEX batch_again_performer ON batch_again (performer);
