-- The day on which a copy was read. In a table of its own, because what was read before the record began has none.
CREATE TABLE reading (
  id INTEGER PRIMARY KEY REFERENCES copy (id),
  read_on TEXT NOT NULL
) STRICT;
CREATE INDEX reading_day ON reading (read_on);

-- The pile; what came in a time, and for how much.
CREATE INDEX copy_unread ON copy (printing) WHERE reading = 'unread';
CREATE INDEX copy_acquired ON copy (acquired, currency, paid_minor);
CREATE INDEX item_seen ON item (seen_at_ms);
