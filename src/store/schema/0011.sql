-- Printings whose digits a list gave: a scan of them resolves with no question.
CREATE TABLE listed (
  id INTEGER PRIMARY KEY REFERENCES printing (id)
) STRICT;

-- How to read lists of one kind, as JSON, under a name.
CREATE TABLE list_preset (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE,
  choices TEXT NOT NULL
) STRICT;
