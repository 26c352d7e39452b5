-- The few issues, printings and bags that are not as usual, in the order of their numbers: a plan reads them beside a million
-- that are, of which it then needs no text. An issue is usual if its sort key says no more than its whole number.
CREATE INDEX issue_named ON issue (id, title, sort_key, whole_number)
  WHERE whole_number IS NULL OR sort_key <> printf('%08d', whole_number);
CREATE INDEX printing_other ON printing (id, cover, number) WHERE cover <> '1' OR number <> 1;
CREATE INDEX copy_bag_without ON copy_bag (id, bag, board) WHERE bag IS NULL OR board IS NULL;
