-- The repeat exercise: some hands measured twice by one measurer, the second time without sight of
-- the first. Its readings are readings like others; these rows say which belong together.
CREATE TABLE exercise (
    id BLOB PRIMARY KEY,
    production BLOB NOT NULL REFERENCES production ON DELETE CASCADE,
    measurer TEXT NOT NULL,
    -- Keys of dimensions, with commas.
    dimensions TEXT NOT NULL,
    started_ms INTEGER NOT NULL
) STRICT;
CREATE INDEX exercise_production ON exercise (production);

CREATE TABLE exercise_hand (
    exercise BLOB NOT NULL REFERENCES exercise ON DELETE CASCADE,
    position INTEGER NOT NULL,
    performer BLOB NOT NULL REFERENCES performer ON DELETE CASCADE,
    side TEXT NOT NULL CHECK (side IN ('left', 'right')),
    PRIMARY KEY (exercise, position)
) STRICT;
CREATE INDEX exercise_hand_performer ON exercise_hand (performer);

CREATE TABLE exercise_reading (
    reading BLOB PRIMARY KEY REFERENCES reading ON DELETE CASCADE,
    exercise BLOB NOT NULL REFERENCES exercise ON DELETE CASCADE,
    round INTEGER NOT NULL CHECK (round IN (1, 2))
) STRICT;
CREATE INDEX exercise_reading_exercise ON exercise_reading (exercise);

-- At most one row: the hand model learns from the workshop's own readings that had arrived by then.
CREATE TABLE workshop_model (
    only INTEGER PRIMARY KEY CHECK (only = 1),
    until_ms INTEGER NOT NULL,
    switched_by TEXT NOT NULL
) STRICT;
