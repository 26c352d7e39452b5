-- The wall of boxes: what each is for, which copy stands in which, the walk that a plan asks for, and what the collector set
-- and measured.

-- Boxes are walked along by row, column and turn. A planned box is not there yet; was_spare says that it becomes spare
-- again if the plan is dropped. A retired one is kept for what is recorded of it.
CREATE TABLE box (
  id INTEGER PRIMARY KEY,
  label TEXT NOT NULL,
  search_key TEXT NOT NULL,
  kind TEXT NOT NULL CHECK (kind IN ('short', 'long', 'magazine', 'own')),
  inner_mm INTEGER NOT NULL CHECK (inner_mm BETWEEN 50 AND 3000),
  magazines INTEGER NOT NULL CHECK (magazines IN (0, 1)),
  purpose TEXT NOT NULL CHECK (purpose IN ('unread', 'title', 'family', 'publisher', 'size', 'rest', 'spare')),
  purpose_title INTEGER REFERENCES title (id),
  purpose_name TEXT,
  row INTEGER NOT NULL CHECK (row >= 0),
  col INTEGER NOT NULL CHECK (col >= 0),
  turn INTEGER NOT NULL,
  note TEXT NOT NULL DEFAULT '',
  state TEXT NOT NULL CHECK (state IN ('here', 'planned', 'retired')),
  was_spare INTEGER NOT NULL DEFAULT 0 CHECK (was_spare IN (0, 1)),
  CHECK ((purpose = 'title') = (purpose_title IS NOT NULL)),
  CHECK ((purpose IN ('family', 'publisher', 'size')) = (purpose_name IS NOT NULL))
) STRICT;
CREATE UNIQUE INDEX box_label ON box (search_key) WHERE state <> 'retired';
CREATE INDEX box_title ON box (purpose_title);

-- The box that a copy stands in. Within a box copies stand in filing order.
CREATE TABLE filed (
  id INTEGER PRIMARY KEY REFERENCES copy (id),
  box INTEGER NOT NULL REFERENCES box (id)
) STRICT;
CREATE INDEX filed_box ON filed (box);
CREATE INDEX copy_unfiled ON copy (reading) WHERE filing = 'unfiled';

-- What is still to be put in on the walk.
CREATE TABLE walk_step (
  id INTEGER PRIMARY KEY REFERENCES copy (id),
  box INTEGER NOT NULL REFERENCES box (id)
) STRICT;
CREATE INDEX walk_step_box ON walk_step (box);

CREATE TABLE filing_setting (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE,
  value TEXT NOT NULL
) STRICT;

-- Books that were measured together, and what the estimate alone says of them.
CREATE TABLE measurement (
  id INTEGER PRIMARY KEY,
  measured_on TEXT NOT NULL,
  books INTEGER NOT NULL CHECK (books > 0),
  measured_um INTEGER NOT NULL CHECK (measured_um > 0),
  estimated_um INTEGER NOT NULL CHECK (estimated_um > 0),
  note TEXT NOT NULL DEFAULT ''
) STRICT;

-- Bags, boards, dividers and boxes on hand, and what a pack of them costs.
CREATE TABLE stock (
  id INTEGER PRIMARY KEY,
  item TEXT NOT NULL UNIQUE,
  on_hand INTEGER NOT NULL DEFAULT 0 CHECK (on_hand >= 0),
  pack INTEGER CHECK (pack > 0),
  pack_minor INTEGER CHECK (pack_minor >= 0),
  currency TEXT CHECK (length(currency) = 3),
  CHECK ((pack_minor IS NULL) = (currency IS NULL))
) STRICT;
