-- What may be spent in a month, one limit a currency.
CREATE TABLE month_limit (
  id INTEGER PRIMARY KEY,
  currency TEXT NOT NULL UNIQUE CHECK (length(currency) = 3),
  minor INTEGER NOT NULL CHECK (minor >= 0)
) STRICT;
