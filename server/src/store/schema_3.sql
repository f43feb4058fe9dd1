CREATE TABLE home_link (
    id BLOB PRIMARY KEY,
    token_hash BLOB NOT NULL UNIQUE,
    performer BLOB NOT NULL REFERENCES performer ON DELETE CASCADE,
    expires_ms INTEGER NOT NULL,
    uses_left INTEGER NOT NULL
) STRICT;
CREATE INDEX home_link_performer ON home_link (performer);

CREATE TABLE home_visit (
    token_hash BLOB PRIMARY KEY,
    link BLOB NOT NULL REFERENCES home_link ON DELETE CASCADE
) STRICT;
CREATE INDEX home_visit_link ON home_visit (link);
