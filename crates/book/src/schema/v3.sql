-- Version 3: where the note of a call came from. What was kept before does not
-- say.

ALTER TABLE call ADD COLUMN picked TEXT
    CHECK (picked IN ('random', 'teaching', 'hand', 'instrument', 'friend'));
