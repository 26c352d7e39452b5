-- Schema 1. Append-only: a released schema is never edited, a change is a further file.
-- Codes are 13-digit numbers, times are milliseconds since 1970 (UTC), dates are YYYY-MM-DD, money is minor units.
-- Every table that holds the record has an integer key 'id': the journal for undo names rows by it.

CREATE TABLE run (
  id INTEGER PRIMARY KEY,
  kind TEXT NOT NULL,
  started_ms INTEGER NOT NULL,
  finished_ms INTEGER,
  undoes INTEGER REFERENCES run (id),
  undone_by INTEGER REFERENCES run (id)
) STRICT;

CREATE TABLE change (
  id INTEGER PRIMARY KEY,
  run INTEGER NOT NULL REFERENCES run (id),
  tbl TEXT NOT NULL,
  row INTEGER NOT NULL,
  inverse TEXT NOT NULL
) STRICT;
CREATE INDEX change_run ON change (run);
CREATE INDEX change_row ON change (tbl, row, run);

CREATE TABLE publisher (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL,
  search_key TEXT NOT NULL UNIQUE
) STRICT;

CREATE TABLE title (
  id INTEGER PRIMARY KEY,
  publisher INTEGER REFERENCES publisher (id),
  name TEXT NOT NULL,
  search_key TEXT NOT NULL,
  volume TEXT NOT NULL DEFAULT '',
  start_year INTEGER,
  layout TEXT CHECK (layout IN ('IIICP', 'IICCP')),
  issue_base INTEGER NOT NULL DEFAULT 0 CHECK (issue_base >= 0)
) STRICT;
CREATE INDEX title_key ON title (search_key);
CREATE INDEX title_publisher ON title (publisher);

-- The words of a title's key, so that a title is found by some of them.
CREATE TABLE title_word (
  id INTEGER PRIMARY KEY,
  word TEXT NOT NULL,
  title INTEGER NOT NULL REFERENCES title (id),
  UNIQUE (word, title)
) STRICT;
CREATE INDEX title_word_title ON title_word (title);

-- A code may stand for several titles (later volumes), and a title may have several codes.
CREATE TABLE title_code (
  id INTEGER PRIMARY KEY,
  gtin INTEGER NOT NULL,
  title INTEGER NOT NULL REFERENCES title (id),
  UNIQUE (gtin, title)
) STRICT;
CREATE INDEX title_code_title ON title_code (title);

-- An empty number is a whole book, such as a collected edition that stands alone.
CREATE TABLE issue (
  id INTEGER PRIMARY KEY,
  title INTEGER NOT NULL REFERENCES title (id),
  number TEXT NOT NULL,
  sort_key TEXT NOT NULL,
  whole_number INTEGER,
  UNIQUE (title, sort_key)
) STRICT;
CREATE INDEX issue_whole_number ON issue (title, whole_number);

CREATE TABLE printing (
  id INTEGER PRIMARY KEY,
  issue INTEGER NOT NULL REFERENCES issue (id),
  cover TEXT NOT NULL,
  number INTEGER NOT NULL CHECK (number >= 1),
  gtin INTEGER,
  add_on TEXT
) STRICT;
CREATE UNIQUE INDEX printing_one ON printing (issue, cover, number, ifnull(gtin, 0), ifnull(add_on, ''));
CREATE INDEX printing_code ON printing (gtin, add_on);

CREATE TABLE photo (
  id INTEGER PRIMARY KEY,
  sha256 BLOB NOT NULL UNIQUE CHECK (length(sha256) = 32),
  path TEXT NOT NULL,
  run INTEGER NOT NULL REFERENCES run (id),
  symbols INTEGER NOT NULL
) STRICT;
CREATE INDEX photo_run ON photo (run);

CREATE TABLE item (
  id INTEGER PRIMARY KEY,
  run INTEGER NOT NULL REFERENCES run (id),
  photo INTEGER REFERENCES photo (id),
  position INTEGER,
  device TEXT,
  seen_at_ms INTEGER NOT NULL,
  gtin INTEGER,
  add_on TEXT,
  add_on_state TEXT CHECK (add_on_state IN ('read', 'absent', 'unread')),
  symbology TEXT,
  certainty TEXT NOT NULL CHECK (certainty IN ('sure', 'confirm')),
  read_by TEXT,
  module_px REAL,
  corners TEXT,
  state TEXT NOT NULL CHECK (state IN ('waiting', 'incomplete', 'accepted', 'dropped')),
  note TEXT NOT NULL DEFAULT '',
  CHECK ((photo IS NULL) = (position IS NULL)),
  CHECK ((gtin IS NULL) = (add_on_state IS NULL)),
  CHECK ((add_on IS NOT NULL) = ifnull(add_on_state = 'read', 0)),
  CHECK (state <> 'waiting' OR (gtin IS NOT NULL AND certainty = 'sure'))
) STRICT;
CREATE INDEX item_state ON item (state, gtin);
CREATE INDEX item_run ON item (run, gtin);
CREATE INDEX item_photo ON item (photo);

-- In a table of their own, so that reading items stays cheap.
CREATE TABLE crop (
  id INTEGER PRIMARY KEY REFERENCES item (id),
  png BLOB NOT NULL
) STRICT;

CREATE TABLE repeat (
  id INTEGER PRIMARY KEY,
  item INTEGER NOT NULL REFERENCES item (id),
  photo INTEGER REFERENCES photo (id),
  position INTEGER,
  seen_at_ms INTEGER NOT NULL
) STRICT;
CREATE INDEX repeat_item ON repeat (item);
CREATE INDEX repeat_photo ON repeat (photo);

CREATE TABLE copy (
  id INTEGER PRIMARY KEY,
  printing INTEGER NOT NULL REFERENCES printing (id),
  acquired TEXT,
  shop TEXT,
  paid_minor INTEGER,
  currency TEXT CHECK (length(currency) = 3),
  reading TEXT NOT NULL DEFAULT 'unread' CHECK (reading IN ('unread', 'read')),
  filing TEXT NOT NULL DEFAULT 'unfiled' CHECK (filing IN ('unfiled', 'filed')),
  item INTEGER REFERENCES item (id),
  CHECK ((paid_minor IS NULL) = (currency IS NULL))
) STRICT;
CREATE INDEX copy_printing ON copy (printing);
CREATE INDEX copy_item ON copy (item);
