-- A fabric as the workshop knew it, one row a change: drafts are versioned with it.
CREATE TABLE fabric_version (
    fabric BLOB NOT NULL REFERENCES fabric ON DELETE CASCADE,
    number INTEGER NOT NULL,
    name TEXT NOT NULL,
    note TEXT NOT NULL,
    -- Material, latex, stretch tests, limits, JSON.
    facts TEXT NOT NULL,
    made_by TEXT NOT NULL,
    made_ms INTEGER NOT NULL,
    PRIMARY KEY (fabric, number)
) STRICT;

-- Stretch tests kept so far were lists of pulls with a mass on a strip.
INSERT INTO fabric_version (fabric, number, name, note, facts, made_by, made_ms)
SELECT id, 1, name, note,
    CASE WHEN json_valid(test) AND json_type(test) = 'array' THEN json_object('tests', json((
        SELECT json_group_array(json_object(
            'direction', pull.value ->> 'direction',
            'load', json_object(
                'by', 'mass',
                'mass_g', pull.value ->> 'mass_g',
                'strip_width_mm', pull.value ->> 'strip_width_mm'),
            'before_mm', pull.value ->> 'before_mm',
            'loaded_mm', pull.value ->> 'loaded_mm',
            'released_mm', pull.value ->> 'released_mm'))
        FROM json_each(fabric.test) AS pull)))
    ELSE '{}' END,
    '', 0
FROM fabric;

ALTER TABLE fabric DROP COLUMN note;
ALTER TABLE fabric DROP COLUMN palm;
ALTER TABLE fabric DROP COLUMN wrist;
ALTER TABLE fabric DROP COLUMN fingers;
ALTER TABLE fabric DROP COLUMN thumb;
ALTER TABLE fabric DROP COLUMN test;

-- Choices of the drafts (JSON of text as typed) kept for everybody of a production, and for one
-- performer on top of them; extra garment measures such as forearm girths are among the latter.
ALTER TABLE production ADD COLUMN choices TEXT NOT NULL DEFAULT '';
ALTER TABLE performer ADD COLUMN choices TEXT NOT NULL DEFAULT '';
