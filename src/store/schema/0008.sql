-- Titles are found by SQLite's full-text index in the place of a table of their words. It keeps no text of its own, and
-- triggers that belong to the file hold it to the titles, so that undo, which restores titles, restores it too.
DROP TABLE title_word;
DELETE FROM change WHERE tbl = 'title_word';

-- Keys are folded already (accents, case, '&'): the tokenizer only parts them.
CREATE VIRTUAL TABLE title_search USING fts5 (
  search_key, content = 'title', content_rowid = 'id', tokenize = 'unicode61 remove_diacritics 0', prefix = '1 2'
);
INSERT INTO title_search (title_search) VALUES ('rebuild');

CREATE TRIGGER title_search_insert AFTER INSERT ON title BEGIN
  INSERT INTO title_search (rowid, search_key) VALUES (NEW.id, NEW.search_key);
END;
CREATE TRIGGER title_search_delete AFTER DELETE ON title BEGIN
  INSERT INTO title_search (title_search, rowid, search_key) VALUES ('delete', OLD.id, OLD.search_key);
END;
CREATE TRIGGER title_search_update AFTER UPDATE OF id, search_key ON title BEGIN
  INSERT INTO title_search (title_search, rowid, search_key) VALUES ('delete', OLD.id, OLD.search_key);
  INSERT INTO title_search (rowid, search_key) VALUES (NEW.id, NEW.search_key);
END;
