"""The tables and indexes of the first release, as SQL. Never edited: what came later is a step of
its own. Read next: `migrations`, which makes them and changes them.
"""

from __future__ import annotations

PEOPLE = """
CREATE TABLE people (
    id INTEGER PRIMARY KEY,
    role TEXT NOT NULL CHECK (role IN ('patient', 'clinician', 'lead clinician', 'owner')),
    name TEXT NOT NULL,
    language TEXT NOT NULL DEFAULT 'en',
    zone TEXT NOT NULL DEFAULT 'UTC',
    made_at TEXT NOT NULL,
    consented_at TEXT, consent_wording TEXT,
    home_zone TEXT, away_until TEXT, away_ends_at TEXT,
    opted_out_at TEXT, number_confirmed_at TEXT, erased_at TEXT
) STRICT;
CREATE INDEX people_away ON people (away_ends_at) WHERE away_ends_at IS NOT NULL;
CREATE TABLE contact_points (
    id INTEGER PRIMARY KEY,
    person INTEGER NOT NULL REFERENCES people (id),
    channel TEXT NOT NULL,
    address TEXT NOT NULL,
    rank INTEGER NOT NULL,
    verified_at TEXT NOT NULL,
    closed_at TEXT, closed_why TEXT,
    UNIQUE (channel, address)
) STRICT;
CREATE INDEX contact_points_person ON contact_points (person, rank);
CREATE TABLE invitations (
    id INTEGER PRIMARY KEY,
    code_hash TEXT NOT NULL UNIQUE,
    person INTEGER NOT NULL REFERENCES people (id),
    made_by INTEGER REFERENCES people (id),
    made_at TEXT NOT NULL, expires_at TEXT NOT NULL, used_at TEXT
) STRICT;
"""

EPISODES = """
CREATE TABLE episodes (
    id INTEGER PRIMARY KEY,
    patient INTEGER NOT NULL UNIQUE REFERENCES people (id),
    tendon TEXT NOT NULL CHECK (tendon IN ('mid-portion', 'insertional')),
    side TEXT,
    protocol TEXT NOT NULL,
    usual_pain INTEGER, usual_stiffness INTEGER,
    morning_time TEXT NOT NULL, evening_time TEXT NOT NULL,
    hops_allowed_at TEXT, pain_limit INTEGER,
    invited_at TEXT NOT NULL, enrolled_on TEXT,
    discharged_at TEXT, discharged_by INTEGER REFERENCES people (id), discharge_summary TEXT
) STRICT;
CREATE TABLE protocols (
    name TEXT NOT NULL, version TEXT NOT NULL, text TEXT NOT NULL, first_used_at TEXT NOT NULL,
    PRIMARY KEY (name, version)
) STRICT;
CREATE TABLE moves (
    id INTEGER PRIMARY KEY,
    episode INTEGER NOT NULL REFERENCES episodes (id),
    on_date TEXT NOT NULL, level INTEGER NOT NULL, dose INTEGER NOT NULL,
    moved_by TEXT NOT NULL CHECK (moved_by IN ('enrolment', 'rules', 'clinician')),
    clinician INTEGER REFERENCES people (id),
    step_back INTEGER NOT NULL DEFAULT 0, session_on TEXT, made_at TEXT NOT NULL,
    undone_at TEXT
) STRICT;
CREATE INDEX moves_episode ON moves (episode, id);
CREATE TABLE pauses (
    id INTEGER PRIMARY KEY,
    episode INTEGER NOT NULL REFERENCES episodes (id),
    on_date TEXT NOT NULL, until_date TEXT,
    made_by INTEGER NOT NULL REFERENCES people (id), made_at TEXT NOT NULL, ended_at TEXT
) STRICT;
CREATE INDEX pauses_episode ON pauses (episode);
CREATE TABLE day_words (
    id INTEGER PRIMARY KEY,
    episode INTEGER NOT NULL REFERENCES episodes (id),
    on_date TEXT NOT NULL, says TEXT NOT NULL CHECK (says IN ('rest', 'go on')),
    clinician INTEGER NOT NULL REFERENCES people (id), made_at TEXT NOT NULL
) STRICT;
CREATE INDEX day_words_episode ON day_words (episode);
CREATE TABLE confirmations (
    id INTEGER PRIMARY KEY,
    clinician INTEGER NOT NULL REFERENCES people (id),
    patient INTEGER NOT NULL REFERENCES people (id),
    command TEXT NOT NULL, would TEXT NOT NULL,
    asked_at TEXT NOT NULL, settled_at TEXT, settled_how TEXT
) STRICT;
CREATE INDEX confirmations_waiting ON confirmations (clinician) WHERE settled_at IS NULL;
CREATE INDEX confirmations_patient ON confirmations (patient);
"""

MESSAGES = """
CREATE TABLE inbox (
    id INTEGER PRIMARY KEY,
    channel TEXT NOT NULL, message_id TEXT NOT NULL, address TEXT NOT NULL,
    text TEXT NOT NULL, pressed TEXT, corrects TEXT,
    sent_at TEXT, received_at TEXT NOT NULL,
    person INTEGER REFERENCES people (id),
    handled_at TEXT, outcome TEXT, failures INTEGER NOT NULL DEFAULT 0, shown_at TEXT,
    UNIQUE (channel, message_id)
) STRICT;
CREATE INDEX inbox_waiting ON inbox (id) WHERE handled_at IS NULL;
CREATE INDEX inbox_address ON inbox (channel, address, received_at);
CREATE INDEX inbox_unshown ON inbox (id) WHERE outcome = 'unread' AND shown_at IS NULL;
CREATE INDEX inbox_strangers ON inbox (received_at) WHERE outcome = 'stranger';
CREATE TABLE cursors (channel TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
CREATE TABLE conversations (
    person INTEGER PRIMARY KEY REFERENCES people (id),
    state TEXT NOT NULL, changed_at TEXT NOT NULL
) STRICT;
CREATE TABLE prompts (
    id INTEGER PRIMARY KEY,
    patient INTEGER NOT NULL REFERENCES people (id),
    kind TEXT NOT NULL, on_date TEXT NOT NULL,
    due_at TEXT NOT NULL, expires_at TEXT NOT NULL,
    written_at TEXT, dropped_at TEXT, dropped_why TEXT,
    UNIQUE (patient, kind, on_date)
) STRICT;
CREATE INDEX prompts_due ON prompts (due_at) WHERE written_at IS NULL AND dropped_at IS NULL;
CREATE INDEX prompts_written ON prompts (written_at) WHERE written_at IS NOT NULL;
CREATE TABLE pictures (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL, person INTEGER REFERENCES people (id),
    png BLOB NOT NULL, made_at TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX pictures_of_all ON pictures (name) WHERE person IS NULL;
CREATE INDEX pictures_person ON pictures (person) WHERE person IS NOT NULL;
CREATE TABLE tips_told (
    id INTEGER PRIMARY KEY,
    person INTEGER NOT NULL REFERENCES people (id),
    tip TEXT NOT NULL, on_date TEXT NOT NULL, told_at TEXT NOT NULL
) STRICT;
CREATE INDEX tips_told_person ON tips_told (person, on_date);
CREATE TABLE outbox (
    id INTEGER PRIMARY KEY,
    once_key TEXT UNIQUE,
    person INTEGER REFERENCES people (id),
    contact INTEGER REFERENCES contact_points (id),
    channel TEXT NOT NULL, address TEXT NOT NULL,
    urgency INTEGER NOT NULL,
    text TEXT NOT NULL, choices TEXT NOT NULL DEFAULT '[]',
    picture INTEGER REFERENCES pictures (id),
    escalation INTEGER REFERENCES escalations (id),
    prompt INTEGER REFERENCES prompts (id),
    written_at TEXT NOT NULL, due_at TEXT NOT NULL, expires_at TEXT,
    tries INTEGER NOT NULL DEFAULT 0,
    trying_run TEXT, possible_double INTEGER NOT NULL DEFAULT 0,
    accepted_at TEXT, reference TEXT, failed_at TEXT, failed_why TEXT
) STRICT;
CREATE INDEX outbox_waiting ON outbox (channel, urgency, due_at)
    WHERE accepted_at IS NULL AND failed_at IS NULL;
CREATE INDEX outbox_person ON outbox (person, id);
CREATE INDEX outbox_trying ON outbox (channel, address) WHERE trying_run IS NOT NULL;
CREATE TABLE attempts (
    id INTEGER PRIMARY KEY,
    outbox INTEGER NOT NULL REFERENCES outbox (id),
    channel TEXT NOT NULL, address TEXT NOT NULL,
    run TEXT NOT NULL, started_at TEXT NOT NULL, ended_at TEXT,
    result TEXT, why TEXT, reference TEXT, segments INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE INDEX attempts_outbox ON attempts (outbox);
CREATE INDEX outbox_sent ON outbox (channel, address, id) WHERE reference IS NOT NULL;
CREATE TABLE receipts (
    id INTEGER PRIMARY KEY,
    channel TEXT NOT NULL, reference TEXT NOT NULL, address TEXT NOT NULL,
    state TEXT NOT NULL, raw TEXT NOT NULL,
    received_at TEXT NOT NULL,
    outbox INTEGER REFERENCES outbox (id),
    UNIQUE (channel, address, reference, state, raw)
) STRICT;
CREATE INDEX receipts_waiting ON receipts (channel, address) WHERE outbox IS NULL;
CREATE TABLE spending (
    channel TEXT NOT NULL, month TEXT NOT NULL, segments INTEGER NOT NULL,
    PRIMARY KEY (channel, month)
) STRICT;
"""

RECORD = """
CREATE TABLE sessions (
    episode INTEGER NOT NULL REFERENCES episodes (id),
    on_date TEXT NOT NULL, level INTEGER NOT NULL, dose INTEGER NOT NULL,
    sets_prescribed INTEGER NOT NULL, reported_at TEXT NOT NULL,
    PRIMARY KEY (episode, on_date)
) STRICT;
CREATE TABLE sign_questions (
    id INTEGER PRIMARY KEY,
    patient INTEGER NOT NULL REFERENCES people (id),
    sign TEXT NOT NULL, words TEXT NOT NULL, message INTEGER REFERENCES inbox (id),
    asked_at TEXT NOT NULL, answer_by TEXT NOT NULL, settled_at TEXT, settled_how TEXT
) STRICT;
CREATE INDEX sign_questions_open ON sign_questions (answer_by) WHERE settled_at IS NULL;
CREATE TABLE answers (
    id INTEGER PRIMARY KEY,
    episode INTEGER NOT NULL REFERENCES episodes (id),
    question TEXT NOT NULL, about_date TEXT NOT NULL,
    value TEXT NOT NULL, answered_at TEXT NOT NULL,
    message INTEGER REFERENCES inbox (id),
    corrects INTEGER REFERENCES answers (id)
) STRICT;
CREATE INDEX answers_episode ON answers (episode, question, about_date, id);
CREATE TABLE decisions (
    id INTEGER PRIMARY KEY,
    episode INTEGER NOT NULL REFERENCES episodes (id),
    on_date TEXT NOT NULL, decided_at TEXT NOT NULL,
    action TEXT NOT NULL, reason TEXT NOT NULL,
    evidence TEXT NOT NULL, also TEXT NOT NULL, inputs TEXT NOT NULL,
    protocol TEXT NOT NULL, protocol_version TEXT NOT NULL,
    stood_level INTEGER NOT NULL, stood_dose INTEGER NOT NULL,
    level INTEGER NOT NULL, dose INTEGER NOT NULL,
    message INTEGER REFERENCES inbox (id)
) STRICT;
CREATE INDEX decisions_episode ON decisions (episode, on_date, id);
CREATE TABLE escalations (
    id INTEGER PRIMARY KEY,
    patient INTEGER NOT NULL REFERENCES people (id),
    sign TEXT NOT NULL, tier TEXT NOT NULL, words TEXT NOT NULL,
    message INTEGER REFERENCES inbox (id),
    once_key TEXT UNIQUE,
    raised_at TEXT NOT NULL, raised_on TEXT NOT NULL, next_at TEXT,
    told_patient TEXT NOT NULL DEFAULT '',
    stops_loading INTEGER NOT NULL,
    acknowledged_at TEXT, acknowledged_by INTEGER REFERENCES people (id),
    closed_at TEXT, closed_on TEXT, closed_by INTEGER REFERENCES people (id),
    outcome TEXT, note TEXT
) STRICT;
CREATE INDEX escalations_open ON escalations (next_at) WHERE next_at IS NOT NULL;
CREATE INDEX escalations_held ON escalations (acknowledged_by) WHERE closed_at IS NULL;
CREATE INDEX escalations_patient ON escalations (patient);
CREATE TABLE notices (
    id INTEGER PRIMARY KEY,
    escalation INTEGER NOT NULL REFERENCES escalations (id),
    at TEXT NOT NULL, kind TEXT NOT NULL, round INTEGER NOT NULL DEFAULT 0,
    person INTEGER REFERENCES people (id), channel TEXT, note TEXT NOT NULL DEFAULT '',
    outbox INTEGER REFERENCES outbox (id), failed_at TEXT
) STRICT;
CREATE INDEX notices_escalation ON notices (escalation, id);
CREATE TABLE audit (
    id INTEGER PRIMARY KEY,
    at TEXT NOT NULL, person INTEGER REFERENCES people (id),
    action TEXT NOT NULL, details TEXT NOT NULL
) STRICT;
"""
