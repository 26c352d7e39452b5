-- What the catalogue knows of titles, issues and printings, owned or not. In tables of their own, because of most of them
-- nothing more is known.
CREATE TABLE title_fact (
  id INTEGER PRIMARY KEY REFERENCES title (id),
  family TEXT,
  size TEXT,
  pages INTEGER CHECK (pages >= 1)
) STRICT;

CREATE TABLE issue_fact (
  id INTEGER PRIMARY KEY REFERENCES issue (id),
  cover_date TEXT,
  pages INTEGER CHECK (pages >= 1),
  size TEXT,
  family TEXT,
  key_note TEXT
) STRICT;

CREATE TABLE printing_fact (
  id INTEGER PRIMARY KEY REFERENCES printing (id),
  on_sale TEXT,
  cover_minor INTEGER CHECK (cover_minor >= 0),
  currency TEXT CHECK (length(currency) = 3),
  CHECK ((cover_minor IS NULL) = (currency IS NULL))
) STRICT;
CREATE INDEX printing_fact_on_sale ON printing_fact (on_sale);

-- The day since which a code stands for a title.
CREATE TABLE code_since (
  id INTEGER PRIMARY KEY REFERENCES title_code (id),
  since TEXT NOT NULL
) STRICT;
