-- The books of several crews: they only grow, and a crew sees and adds to its own alone.
-- Made once by the owner of the database. A crew is a login role that is a member of rodside_crew; who reads all of
-- them is a member of rodside_office. Neither may change or remove anything.

DO $$ BEGIN
  IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'rodside_crew') THEN CREATE ROLE rodside_crew NOLOGIN; END IF;
  IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'rodside_office') THEN CREATE ROLE rodside_office NOLOGIN; END IF;
END $$;

CREATE SCHEMA IF NOT EXISTS rodside;

-- A book is known by the hash of its first entry.
CREATE TABLE IF NOT EXISTS rodside.books (
  book text PRIMARY KEY,
  crew name NOT NULL DEFAULT current_user,
  name text NOT NULL,
  pushed timestamptz NOT NULL DEFAULT now()
);

-- `written` is the entry as JSON, exactly; the other columns are for asking.
CREATE TABLE IF NOT EXISTS rodside.entries (
  book text NOT NULL REFERENCES rodside.books,
  sequence bigint NOT NULL,
  time timestamptz NOT NULL,
  kind text NOT NULL,
  payload jsonb NOT NULL,
  reply text NOT NULL,
  previous text NOT NULL,
  hash text NOT NULL,
  written text NOT NULL,
  PRIMARY KEY (book, sequence)
);
CREATE INDEX IF NOT EXISTS entries_by_time ON rodside.entries (time);

-- Within what arrives each entry must follow the one before it; only the first is looked up among those that are there.
CREATE OR REPLACE FUNCTION rodside.follows() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
  IF EXISTS (
    SELECT FROM (
      SELECT *, lag(sequence) OVER chain AS number, lag(hash) OVER chain AS before
      FROM arrived WINDOW chain AS (PARTITION BY book ORDER BY sequence)
    ) a
    WHERE a.previous <> CASE
        WHEN a.sequence = 1 THEN repeat('0', 64)
        WHEN a.number = a.sequence - 1 THEN a.before
        ELSE coalesce((SELECT e.hash FROM rodside.entries e WHERE e.book = a.book AND e.sequence = a.sequence - 1), '')
      END
      OR (a.sequence = 1 AND a.hash <> a.book)
  ) THEN RAISE EXCEPTION 'a book only grows' USING ERRCODE = 'integrity_constraint_violation'; END IF;
  RETURN NULL;
END $$;
CREATE OR REPLACE TRIGGER a_book_only_grows AFTER INSERT ON rodside.entries
  REFERENCING NEW TABLE AS arrived FOR EACH STATEMENT EXECUTE FUNCTION rodside.follows();

CREATE OR REPLACE FUNCTION rodside.refused() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
  RAISE EXCEPTION 'a book is never changed' USING ERRCODE = 'integrity_constraint_violation';
END $$;
CREATE OR REPLACE TRIGGER nothing_changes BEFORE UPDATE OR DELETE OR TRUNCATE ON rodside.entries
  FOR EACH STATEMENT EXECUTE FUNCTION rodside.refused();
CREATE OR REPLACE TRIGGER nothing_changes BEFORE UPDATE OR DELETE OR TRUNCATE ON rodside.books
  FOR EACH STATEMENT EXECUTE FUNCTION rodside.refused();

ALTER TABLE rodside.books ENABLE ROW LEVEL SECURITY;
ALTER TABLE rodside.entries ENABLE ROW LEVEL SECURITY;
DROP POLICY IF EXISTS own ON rodside.books;
CREATE POLICY own ON rodside.books TO rodside_crew USING (crew = current_user) WITH CHECK (crew = current_user);
DROP POLICY IF EXISTS everyone ON rodside.books;
CREATE POLICY everyone ON rodside.books FOR SELECT TO rodside_office USING (true);
DROP POLICY IF EXISTS own ON rodside.entries;
CREATE POLICY own ON rodside.entries TO rodside_crew
  USING (book IN (SELECT b.book FROM rodside.books b WHERE b.crew = current_user))
  WITH CHECK (book IN (SELECT b.book FROM rodside.books b WHERE b.crew = current_user));
DROP POLICY IF EXISTS everyone ON rodside.entries;
CREATE POLICY everyone ON rodside.entries FOR SELECT TO rodside_office USING (true);

-- A reading is unproven where, before the next proof of the set-up, a check of it failed.
CREATE OR REPLACE VIEW rodside.unproven_readings WITH (security_invoker = true) AS
WITH standing AS (
  SELECT * FROM rodside.entries e WHERE kind <> 'scratch' AND NOT EXISTS (
    SELECT FROM rodside.entries s
    WHERE s.book = e.book AND s.kind = 'scratch' AND (s.payload ->> 'sequence')::bigint = e.sequence)
), proofs AS (
  SELECT *, payload ->> 'holds' = 'false' AND kind IN ('check', 'benchmark check') AS failed,
    count(*) FILTER (WHERE kind IN ('baseline', 'backsight')
      OR (kind IN ('check', 'benchmark check') AND payload ->> 'holds' = 'true'))
    OVER (PARTITION BY book ORDER BY sequence) AS proof
  FROM standing
), judged AS (
  SELECT *, bool_or(failed) OVER (PARTITION BY book, proof) AS unproven FROM proofs
)
SELECT b.crew, b.name, j.book, j.sequence, j.time, j.payload, j.reply
FROM judged j JOIN rodside.books b USING (book)
WHERE j.kind = 'reading' AND j.unproven;

GRANT USAGE ON SCHEMA rodside TO rodside_crew, rodside_office;
GRANT SELECT, INSERT ON rodside.books, rodside.entries TO rodside_crew;
GRANT SELECT ON rodside.books, rodside.entries TO rodside_office;
GRANT SELECT ON rodside.unproven_readings TO rodside_crew, rodside_office;
