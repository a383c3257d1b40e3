-- Index of a folder of records. It is made from the records and can be removed at any time.
CREATE TABLE records (
    id INTEGER PRIMARY KEY,
    folder TEXT NOT NULL UNIQUE,      -- below the folder that was indexed
    stamp TEXT NOT NULL,              -- size and time of journal, plan, folder of clips, each seal and
                                      -- amendment when it was read; of a folder why it cannot be
    problem TEXT,                     -- why it could not be read; the rest is empty then. Also of a
                                      -- folder that may hold records and cannot be read
    load TEXT NOT NULL, kind TEXT NOT NULL, slings TEXT NOT NULL,
    inspector TEXT NOT NULL, rigger TEXT NOT NULL,      -- as spelled in the record; see `people`
    started TEXT NOT NULL,            -- RFC 9557
    started_ms INTEGER NOT NULL,      -- the same instant, milliseconds since 1970 UTC; 0: not known
    day TEXT NOT NULL,                -- local date
    week TEXT NOT NULL,               -- ISO 8601 week
    walked_ms INTEGER NOT NULL,       -- recorded time less the time held
    state TEXT NOT NULL,              -- amendments included
    route INTEGER NOT NULL,
    checks INTEGER NOT NULL, deficient INTEGER NOT NULL, found INTEGER NOT NULL,
    open INTEGER NOT NULL, put_right INTEGER NOT NULL, reinspected INTEGER NOT NULL,
    asked INTEGER NOT NULL, asked_again INTEGER NOT NULL, refused INTEGER NOT NULL,
    doubted INTEGER NOT NULL,
    corrected INTEGER NOT NULL,       -- answers in the place of another value
    held INTEGER NOT NULL,
    amendments INTEGER NOT NULL, sealed INTEGER NOT NULL,
    clips INTEGER NOT NULL,           -- sounds that the entries name
    sound_removed INTEGER NOT NULL,   -- of these, removed on purpose
    beginning TEXT NOT NULL,          -- names the first entry; empty where there is none
    entries INTEGER NOT NULL,
    copy_of TEXT                      -- folder of the record of the same walk that counts in its place
);
CREATE INDEX begun_alike ON records (beginning);
-- Who is one person, however the name is written.
CREATE TABLE people (
    spelling TEXT PRIMARY KEY,
    person TEXT NOT NULL              -- the spelling of the earliest walk
) WITHOUT ROWID;
CREATE TABLE checks (
    id INTEGER PRIMARY KEY,
    "check" TEXT NOT NULL, station TEXT NOT NULL, name TEXT NOT NULL,
    UNIQUE ("check", station, name)
);
CREATE TABLE routes (id INTEGER PRIMARY KEY, sha256 TEXT NOT NULL UNIQUE);
CREATE TABLE route_checks (
    route INTEGER NOT NULL, check_no INTEGER NOT NULL,
    PRIMARY KEY (route, check_no)
) WITHOUT ROWID;
-- Checks at which anything happened but one question and one conforming answer.
CREATE TABLE happened (
    check_no INTEGER NOT NULL, record INTEGER NOT NULL,
    status TEXT NOT NULL,
    deficient INTEGER NOT NULL,       -- 1: found deficient at any time
    deficiency TEXT,
    asked INTEGER NOT NULL, asked_again INTEGER NOT NULL, refused INTEGER NOT NULL,
    doubted INTEGER NOT NULL, corrected INTEGER NOT NULL, reinspected INTEGER NOT NULL,
    PRIMARY KEY (check_no, record)
) WITHOUT ROWID;
CREATE INDEX happened_of ON happened (record);
-- Utterances by signal to noise, dB; lowest and highest band are open.
CREATE TABLE noise (
    record INTEGER NOT NULL, from_db INTEGER NOT NULL,
    heard INTEGER NOT NULL, not_taken INTEGER NOT NULL,
    PRIMARY KEY (record, from_db)
) WITHOUT ROWID;
-- Every check of every record, practice and copies left out.
CREATE VIEW checked AS
SELECT r.folder, r.day, r.load, r.rigger, c."check", c.station, c.name,
    coalesce(h.status, 'conforming') AS status, coalesce(h.deficient, 0) AS found_deficient,
    h.deficiency, coalesce(h.asked, 1) AS asked, coalesce(h.asked_again, 0) AS asked_again,
    coalesce(h.refused, 0) AS refused, coalesce(h.doubted, 0) AS doubted,
    coalesce(h.corrected, 0) AS corrected, coalesce(h.reinspected, 0) AS reinspected
FROM records r
JOIN route_checks rc ON rc.route = r.route
JOIN checks c ON c.id = rc.check_no
LEFT JOIN happened h ON h.check_no = c.id AND h.record = r.id
WHERE r.problem IS NULL AND r.copy_of IS NULL AND r.state <> 'practice';
