-- The books of several crews: they only grow, and a crew sees and adds to its own alone.
-- Made by the owner of the database, and again after an update of Rodside. A crew is a login role that is a member of
-- rodside_crew; who reads all of them is a member of rodside_office. Neither may change or remove anything.
--
-- A crew can say two things of an entry: of which of its books it is, and the text that its hash covers. All other
-- columns are worked out from that text here, so that none of them can say anything else. The bodies of the functions
-- are kept as parsed (RETURN), so that no setting of a session changes what they mean.

SET LOCAL search_path = pg_catalog, pg_temp;
SET LOCAL standard_conforming_strings = on;

DO $$ BEGIN
  IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'rodside_crew') THEN CREATE ROLE rodside_crew NOLOGIN; END IF;
  IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'rodside_office') THEN CREATE ROLE rodside_office NOLOGIN; END IF;
END $$;

CREATE SCHEMA IF NOT EXISTS rodside;

-- Before, the columns were believed. What came then is put aside as it is, readable and closed; upgrading.py brings over
-- the books that prove.
DO $$ BEGIN
  IF to_regclass('rodside.entries') IS NOT NULL AND NOT EXISTS (
    SELECT FROM pg_attribute WHERE attrelid = to_regclass('rodside.entries') AND attname = 'crew'
  ) THEN
    CREATE SCHEMA rodside_before;
    GRANT USAGE ON SCHEMA rodside_before TO rodside_crew, rodside_office;
    DROP VIEW IF EXISTS rodside.unproven_readings;
    DROP TRIGGER a_book_only_grows ON rodside.entries;
    REVOKE INSERT ON rodside.books, rodside.entries FROM rodside_crew;
    ALTER TABLE rodside.books SET SCHEMA rodside_before;
    ALTER TABLE rodside.entries SET SCHEMA rodside_before;
  END IF;
END $$;

-- A book is known by its crew and the hash of its first entry: nobody can take the place of another crew's book.
CREATE TABLE IF NOT EXISTS rodside.books (
  crew name NOT NULL DEFAULT current_user CONSTRAINT "a book is of one crew" CHECK (crew <> 'rodside_crew'),
  book text NOT NULL CONSTRAINT "a book is named by a hash" CHECK (book ~ '^[0-9a-f]{64}$'),
  name text NOT NULL CONSTRAINT "a name is a short line"
    CHECK (char_length(name) BETWEEN 1 AND 100 AND name !~ '[\u0001-\u001f\u007f-\u009f\u2028-\u202e\u2066-\u2069]'),
  pushed timestamptz NOT NULL DEFAULT now(),
  PRIMARY KEY (crew, book)
);

CREATE OR REPLACE FUNCTION rodside.hash_of(written text) RETURNS text IMMUTABLE PARALLEL SAFE
  RETURN encode(sha256(convert_to(written, 'UTF8')), 'hex');

-- JSON as PostgreSQL can ask it, which knows no character zero and no half characters.
CREATE OR REPLACE FUNCTION rodside.plain(json_text text) RETURNS text IMMUTABLE PARALLEL SAFE
  RETURN regexp_replace(json_text, '(?<!\\)((?:\\\\)*)\\u(?:0000|[dD][89a-fA-F][0-9a-fA-F]{2})', U&'\\1\FFFD', 'g');

-- The text of an entry is a JSON list, in the one way to write it: no spaces, and of escapes only those that must be.
CREATE OR REPLACE FUNCTION rodside.is_entry(written text) RETURNS boolean IMMUTABLE PARALLEL SAFE
  RETURN octet_length(written) <= 1048576 AND json_array_length(rodside.plain(written)::json) = 9 AND written ~
    '^\[[1-9][0-9]*(?:,null|,"(?:[^"\\\u0001-\u001f]|\\["\\bfnrt]|\\u00(?:0[0-7bef]|1[0-9a-f]))*")*\]$';

CREATE OR REPLACE FUNCTION rodside.part(written text, place integer) RETURNS text IMMUTABLE PARALLEL SAFE
  RETURN rodside.plain(written)::json ->> place;

CREATE OR REPLACE FUNCTION rodside.moment(said text) RETURNS timestamptz IMMUTABLE PARALLEL SAFE
  RETURN CASE WHEN said ~ '^[0-9]{4}-[0-9]{2}-[0-9]{2}T([01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9][.][0-9]{6}Z$'
    THEN rtrim(said, 'Z')::timestamp AT TIME ZONE interval '0' END;

CREATE OR REPLACE FUNCTION rodside.object(json_text text) RETURNS jsonb IMMUTABLE PARALLEL SAFE
  RETURN rodside.plain(json_text)::jsonb;

-- What is asked of all books must be there to be asked: whether a check holds, and what is scratched.
CREATE OR REPLACE FUNCTION rodside.is_payload(kind text, payload jsonb) RETURNS boolean IMMUTABLE PARALLEL SAFE
  RETURN jsonb_typeof(payload) = 'object' AND CASE
    WHEN kind IN ('check', 'benchmark check') THEN coalesce(jsonb_typeof(payload -> 'holds') = 'boolean', false)
    WHEN kind = 'scratch' THEN coalesce(jsonb_typeof(payload -> 'sequence') = 'number', false)
    ELSE true END;

CREATE TABLE IF NOT EXISTS rodside.entries (
  crew name NOT NULL DEFAULT current_user,
  book text NOT NULL,
  written text NOT NULL CONSTRAINT "it is the text of an entry" CHECK (rodside.is_entry(written)),
  hash text NOT NULL GENERATED ALWAYS AS (rodside.hash_of(written)) STORED,
  sequence bigint NOT NULL GENERATED ALWAYS AS (rodside.part(written, 0)::bigint) STORED,
  time timestamptz NOT NULL GENERATED ALWAYS AS (rodside.moment(rodside.part(written, 1))) STORED
    CONSTRAINT "its time is of our days" CHECK (time >= '1970-01-01Z' AND time < '2100-01-01Z'),
  kind text NOT NULL GENERATED ALWAYS AS (rodside.part(written, 2)) STORED
    CONSTRAINT "its kind is a few words" CHECK (kind ~ '^[a-z][a-z0-9 ]*$' AND char_length(kind) <= 60),
  payload jsonb NOT NULL GENERATED ALWAYS AS (rodside.object(rodside.part(written, 3))) STORED,
  reply text NOT NULL GENERATED ALWAYS AS (rodside.part(written, 7)) STORED,
  previous text NOT NULL GENERATED ALWAYS AS (rodside.part(written, 8)) STORED,
  CONSTRAINT "its payload is of its kind" CHECK (rodside.is_payload(kind, payload)),
  PRIMARY KEY (crew, book, sequence),
  FOREIGN KEY (crew, book) REFERENCES rodside.books
);
CREATE INDEX IF NOT EXISTS entries_by_time ON rodside.entries (time);

-- Books that came before their text was proved, and do not prove.
CREATE TABLE IF NOT EXISTS rodside.left_out (
  crew name NOT NULL,
  book text NOT NULL,
  name text NOT NULL,
  why text NOT NULL
);

-- Within what arrives each entry must follow the one before it; only the first is looked up among those that are there.
CREATE OR REPLACE FUNCTION rodside.follows() RETURNS trigger LANGUAGE plpgsql SET search_path = pg_catalog, pg_temp
AS $$ BEGIN
  IF EXISTS (
    SELECT FROM (
      SELECT *, lag(sequence) OVER chain AS number, lag(hash) OVER chain AS before
      FROM arrived WINDOW chain AS (PARTITION BY crew, book ORDER BY sequence)
    ) a
    WHERE a.previous <> CASE
        WHEN a.sequence = 1 THEN repeat('0', 64)
        WHEN a.number = a.sequence - 1 THEN a.before
        ELSE coalesce((
          SELECT e.hash FROM rodside.entries e WHERE (e.crew, e.book, e.sequence) = (a.crew, a.book, a.sequence - 1)
        ), '')
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

DO $$ DECLARE one text; BEGIN
  FOREACH one IN ARRAY ARRAY['books', 'entries', 'left_out'] LOOP
    EXECUTE format('ALTER TABLE rodside.%I ENABLE ROW LEVEL SECURITY', one);
    EXECUTE format('DROP POLICY IF EXISTS own ON rodside.%I', one);
    EXECUTE format('CREATE POLICY own ON rodside.%I TO rodside_crew USING (crew = current_user)', one);
    EXECUTE format('DROP POLICY IF EXISTS everyone ON rodside.%I', one);
    EXECUTE format('CREATE POLICY everyone ON rodside.%I FOR SELECT TO rodside_office USING (true)', one);
  END LOOP;
END $$;

-- A reading is unproven where, before the next proof of the set-up, a check of it failed.
CREATE OR REPLACE VIEW rodside.unproven_readings WITH (security_invoker = true) AS
WITH standing AS (
  SELECT * FROM rodside.entries e WHERE kind <> 'scratch' AND NOT EXISTS (
    SELECT FROM rodside.entries s
    WHERE s.crew = e.crew AND s.book = e.book AND s.kind = 'scratch'
      AND s.payload -> 'sequence' = to_jsonb(e.sequence))
), proofs AS (
  SELECT *, kind IN ('check', 'benchmark check') AND payload -> 'holds' = 'false' AS failed,
    count(*) FILTER (WHERE kind IN ('baseline', 'backsight')
      OR (kind IN ('check', 'benchmark check') AND payload -> 'holds' = 'true'))
    OVER (PARTITION BY crew, book ORDER BY sequence) AS proof
  FROM standing
), judged AS (
  SELECT *, bool_or(failed) OVER (PARTITION BY crew, book, proof) AS unproven FROM proofs
)
SELECT j.crew, b.name, j.book, j.sequence, j.time, j.payload, j.reply
FROM judged j JOIN rodside.books b USING (crew, book)
WHERE j.kind = 'reading' AND j.unproven;

GRANT USAGE ON SCHEMA rodside TO rodside_crew, rodside_office;
GRANT SELECT ON rodside.books, rodside.entries, rodside.left_out, rodside.unproven_readings
  TO rodside_crew, rodside_office;
GRANT INSERT (book, name) ON rodside.books TO rodside_crew;
GRANT INSERT (book, written) ON rodside.entries TO rodside_crew;
