-- What is expected, and what is wanted: of issues that need not be owned, and so are known only.
-- A title of which every further issue is expected, so many weeks after the one before; and the first that is, with its
-- week, named by its Monday.
CREATE TABLE standing (
  id INTEGER PRIMARY KEY REFERENCES title (id),
  weeks INTEGER NOT NULL CHECK (weeks BETWEEN 1 AND 520),
  first_number INTEGER NOT NULL CHECK (first_number >= 0),
  first_due TEXT NOT NULL
) STRICT;

-- A single issue that is expected, and the Monday of the week in which it is due, if that is known.
CREATE TABLE expected (
  id INTEGER PRIMARY KEY REFERENCES issue (id),
  due TEXT
) STRICT;

-- An issue that is wanted, and what may be paid for it.
CREATE TABLE want (
  id INTEGER PRIMARY KEY REFERENCES issue (id),
  limit_minor INTEGER CHECK (limit_minor >= 0),
  currency TEXT CHECK (length(currency) = 3),
  note TEXT NOT NULL DEFAULT '',
  CHECK ((limit_minor IS NULL) = (currency IS NULL))
) STRICT;
