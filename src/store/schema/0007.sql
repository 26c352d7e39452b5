-- What is known of a copy beyond what it is and what it cost. In tables of their own, because of most copies nothing more is
-- known, and what sums up all copies must stay fast.
CREATE TABLE copy_fact (
  id INTEGER PRIMARY KEY REFERENCES copy (id),
  grade_tenths INTEGER CHECK (grade_tenths BETWEEN 5 AND 100),
  defects TEXT,
  signed_by TEXT,
  value_minor INTEGER CHECK (value_minor >= 0),
  value_currency TEXT CHECK (length(value_currency) = 3),
  valued_on TEXT,
  CHECK ((value_minor IS NULL) = (value_currency IS NULL))
) STRICT;

CREATE TABLE copy_bag (
  id INTEGER PRIMARY KEY REFERENCES copy (id),
  bag TEXT CHECK (bag IN ('polypropylene', 'polyethylene', 'polyester', 'unknown')),
  board TEXT CHECK (board IN ('acid-free', 'buffered', 'unknown')),
  size TEXT,
  since TEXT
) STRICT;

-- How a copy's price came about.
CREATE TABLE copy_price (
  id INTEGER PRIMARY KEY REFERENCES copy (id),
  cover_minor INTEGER CHECK (cover_minor >= 0),
  cover_currency TEXT CHECK (length(cover_currency) = 3),
  asked_minor INTEGER CHECK (asked_minor >= 0),
  asked_currency TEXT CHECK (length(asked_currency) = 3),
  discount_hundredths INTEGER CHECK (discount_hundredths BETWEEN 0 AND 10000),
  tax_minor INTEGER CHECK (tax_minor >= 0),
  tax_currency TEXT CHECK (length(tax_currency) = 3),
  CHECK ((cover_minor IS NULL) = (cover_currency IS NULL)),
  CHECK ((asked_minor IS NULL) = (asked_currency IS NULL)),
  CHECK ((tax_minor IS NULL) = (tax_currency IS NULL))
) STRICT;

CREATE TABLE copy_photo (
  id INTEGER PRIMARY KEY REFERENCES copy (id),
  jpeg BLOB NOT NULL
) STRICT;

-- A copy is lent to one at a time.
CREATE TABLE loan (
  id INTEGER PRIMARY KEY,
  copy INTEGER NOT NULL REFERENCES copy (id),
  borrower TEXT NOT NULL,
  since TEXT NOT NULL,
  returned TEXT
) STRICT;
CREATE INDEX loan_copy ON loan (copy);
CREATE UNIQUE INDEX loan_open ON loan (copy) WHERE returned IS NULL;

-- A copy that left stays in the record, and in what was spent.
CREATE TABLE departure (
  id INTEGER PRIMARY KEY REFERENCES copy (id),
  how TEXT NOT NULL CHECK (how IN ('sold', 'given', 'traded', 'lost')),
  left_on TEXT NOT NULL,
  price_minor INTEGER CHECK (price_minor >= 0),
  currency TEXT CHECK (length(currency) = 3),
  receiver TEXT,
  CHECK ((price_minor IS NULL) = (currency IS NULL))
) STRICT;

-- The copies that are owned: every question about what is owned asks this.
CREATE VIEW held AS SELECT * FROM copy WHERE NOT EXISTS (SELECT 1 FROM departure WHERE departure.id = copy.id);
