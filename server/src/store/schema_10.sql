-- Who is called together: "morning", "dancers"; empty where nobody has said.
ALTER TABLE performer ADD COLUMN call TEXT NOT NULL DEFAULT '';

-- The call as it was when the batch began.
ALTER TABLE batch_item ADD COLUMN call TEXT NOT NULL DEFAULT '';

-- Somebody decided that a performer is to be measured again. The row goes with their next reading,
-- or when the decision is taken back.
CREATE TABLE measure_again (
    performer BLOB PRIMARY KEY REFERENCES performer ON DELETE CASCADE,
    asked_by TEXT NOT NULL,
    asked_ms INTEGER NOT NULL
) STRICT;
