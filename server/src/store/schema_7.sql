-- A guardian's word about a minor: given, or taken back by a later row. The words are those that
-- were read out or signed.
CREATE TABLE consent (
    id BLOB PRIMARY KEY,
    performer BLOB NOT NULL REFERENCES performer ON DELETE CASCADE,
    is_given INTEGER NOT NULL CHECK (is_given IN (0, 1)),
    manner TEXT NOT NULL CHECK (manner IN ('signed', 'spoken', 'link')),
    words TEXT NOT NULL,
    recorded_by TEXT NOT NULL,
    at_ms INTEGER NOT NULL
) STRICT;
CREATE INDEX consent_performer ON consent (performer);

-- The workshop's own words of consent; the latest row counts, an empty one means the built-in words.
CREATE TABLE consent_text (
    number INTEGER PRIMARY KEY,
    words TEXT NOT NULL,
    written_by TEXT NOT NULL,
    at_ms INTEGER NOT NULL
) STRICT;

-- Until which day a production is kept, "2027-03-31"; NULL where nobody has said.
ALTER TABLE production ADD COLUMN keep_until TEXT;

-- What is left of the erased: how many.
CREATE TABLE erased (
    at_ms INTEGER NOT NULL,
    performers INTEGER NOT NULL,
    readings INTEGER NOT NULL
) STRICT;

-- Codes from an authenticator app (RFC 6238). Until a first code has fitted, nothing is asked for.
CREATE TABLE second_factor (
    account BLOB PRIMARY KEY REFERENCES account ON DELETE CASCADE,
    secret BLOB NOT NULL CHECK (length(secret) = 20),
    is_confirmed INTEGER NOT NULL DEFAULT 0 CHECK (is_confirmed IN (0, 1)),
    -- Time step of the last code that was taken: neither it nor an earlier one is taken again.
    last_step INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE TABLE recovery_code (
    account BLOB NOT NULL REFERENCES account ON DELETE CASCADE,
    code_hash BLOB NOT NULL,
    PRIMARY KEY (account, code_hash)
) STRICT;

-- Passphrase or link was right, the code is awaited.
CREATE TABLE half_sign_in (
    token_hash BLOB PRIMARY KEY,
    account BLOB NOT NULL REFERENCES account ON DELETE CASCADE,
    by_link INTEGER NOT NULL CHECK (by_link IN (0, 1)),
    expires_ms INTEGER NOT NULL
) STRICT;

-- A session that a one-time link began may set a passphrase without the old one.
ALTER TABLE session ADD COLUMN by_link INTEGER NOT NULL DEFAULT 0 CHECK (by_link IN (0, 1));
