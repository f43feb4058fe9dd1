-- Who did what to what, and when. No measurements, no names of performers: objects by id alone.
-- Each row carries the hash of the row before it, so that a changed or missing row shows.
CREATE TABLE audit (
    number INTEGER PRIMARY KEY,
    at_ms INTEGER NOT NULL,
    actor TEXT NOT NULL,
    action TEXT NOT NULL,
    object TEXT NOT NULL,
    hash BLOB NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE TRIGGER audit_is_never_changed BEFORE UPDATE ON audit
BEGIN SELECT RAISE(ABORT, 'the audit trail is append-only'); END;

CREATE TRIGGER audit_is_never_shortened BEFORE DELETE ON audit
BEGIN SELECT RAISE(ABORT, 'the audit trail is append-only'); END;
