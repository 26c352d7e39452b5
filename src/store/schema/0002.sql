-- Where, when and for how much a session's books were bought.
CREATE TABLE purchase (
  id INTEGER PRIMARY KEY,
  shop TEXT,
  acquired TEXT,
  cover_minor INTEGER,
  currency TEXT CHECK (length(currency) = 3),
  discount_hundredths INTEGER CHECK (discount_hundredths BETWEEN 0 AND 10000),
  CHECK ((cover_minor IS NULL) = (currency IS NULL))
) STRICT;

-- The purchase that an item was staged under.
CREATE TABLE item_purchase (
  id INTEGER PRIMARY KEY REFERENCES item (id),
  purchase INTEGER NOT NULL REFERENCES purchase (id)
) STRICT;
CREATE INDEX item_purchase_purchase ON item_purchase (purchase);
