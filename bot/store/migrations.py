"""The shape of the store, as numbered steps. Each runs in a transaction; a backup is taken first.

A step, once released, is never edited: a later one changes what it made.
Tables are STRICT; times are UTC text (see `instants`); dates are the patient's local dates; what
has happened is an instant, and empty means not yet.
"""

from __future__ import annotations

import zlib

from sqlite_utils import Database, Migrations

from bot.errors import StoreNewerError
from bot.store.database import Store
from bot.store.first_tables import EPISODES, MESSAGES, PEOPLE, RECORD

steps = Migrations("nextmorning")


def _make(db: Database, script: str) -> None:
    for statement in filter(None, map(str.strip, script.split(";"))):
        db.conn.execute(statement)


@steps()
def m001_people_and_messages(db: Database) -> None:
    """People, plans, messages both ways, and the record of what was decided."""
    for script in (PEOPLE, EPISODES, MESSAGES, RECORD):
        _make(db, script)


@steps()
def m002_what_follows_an_escalation(db: Database) -> None:
    """From which day loading goes on after an escalation; what was closed before keeps its day."""
    _make(
        db,
        """
        ALTER TABLE escalations ADD COLUMN loads_from TEXT;
        ALTER TABLE escalations ADD COLUMN remarks TEXT NOT NULL DEFAULT '';
        UPDATE escalations SET loads_from = closed_on
        """,
    )


@steps()
def m003_smaller_steps(db: Database) -> None:
    """Moves of both sizes with their reason, and a patient whom the clinician lets climb slower.
    Steps down made before were whole levels; everybody keeps their place."""
    db.conn.execute("ALTER TABLE moves ADD COLUMN do_less INTEGER NOT NULL DEFAULT 0")
    db.conn.execute("ALTER TABLE moves ADD COLUMN reason TEXT")
    db.conn.execute("ALTER TABLE episodes ADD COLUMN slower INTEGER NOT NULL DEFAULT 0")


@steps()
def m004_what_went_out_of_an_escalation(db: Database) -> None:
    """Found fast, for it is looked for on each tick."""
    sql = "CREATE INDEX outbox_escalation ON outbox (escalation) WHERE escalation IS NOT NULL"
    db.conn.execute(sql)


@steps()
def m005_every_read_by_an_index(db: Database) -> None:
    """What is asked for with each message and on each tick is found without reading a table that
    grows."""
    _make(
        db,
        """
        CREATE INDEX people_role ON people (role);
        CREATE INDEX episodes_treated ON episodes (id)
            WHERE enrolled_on IS NOT NULL AND discharged_at IS NULL;
        CREATE INDEX inbox_person ON inbox (person, received_at);
        CREATE INDEX escalations_not_closed ON escalations (patient) WHERE closed_at IS NULL;
        CREATE INDEX escalations_message ON escalations (message) WHERE message IS NOT NULL;
        CREATE INDEX notices_told ON notices (at) WHERE kind = 'told';
        CREATE INDEX notices_outbox ON notices (outbox) WHERE outbox IS NOT NULL;
        CREATE INDEX outbox_escalation_written ON outbox (written_at) WHERE escalation IS NOT NULL;
        CREATE INDEX sign_questions_patient ON sign_questions (patient, sign)
        """,
    )


@steps()
def m006_what_was_seen_of_the_list(db: Database) -> None:
    """What each clinician has seen of who needs somebody, and what they set aside."""
    _make(
        db,
        """
        CREATE TABLE looks (
            clinician INTEGER NOT NULL REFERENCES people (id),
            patient INTEGER NOT NULL REFERENCES people (id),
            reasons TEXT NOT NULL, seen_at TEXT NOT NULL, done_at TEXT,
            PRIMARY KEY (clinician, patient)
        ) STRICT;
        CREATE TABLE list_rests (
            clinician INTEGER PRIMARY KEY REFERENCES people (id),
            patients TEXT NOT NULL, kept_at TEXT NOT NULL
        ) STRICT
        """,
    )


@steps()
def m007_small_decisions(db: Database) -> None:
    """What a decision was made from is kept packed: nine tenths of a file were this. The latest
    decision is found without a look at those before it."""
    db.conn.execute("ALTER TABLE decisions ADD COLUMN history BLOB NOT NULL DEFAULT x''")
    db.conn.create_function("packed", 1, lambda text: zlib.compress(text.encode(), 9))
    db.conn.execute("UPDATE decisions SET history = packed(inputs)")
    db.conn.execute("ALTER TABLE decisions DROP COLUMN inputs")
    db.conn.execute("CREATE INDEX decisions_latest ON decisions (episode)")


@steps()
def m008_keys_to_the_page(db: Database) -> None:
    """Links to the clinic page and the sessions they open, by the hash of their key."""
    _make(
        db,
        """
        CREATE TABLE page_keys (
            id INTEGER PRIMARY KEY,
            person INTEGER NOT NULL REFERENCES people (id),
            kind TEXT NOT NULL CHECK (kind IN ('link', 'session')),
            key_hash TEXT NOT NULL UNIQUE,
            made_at TEXT NOT NULL, expires_at TEXT NOT NULL, ended_at TEXT
        ) STRICT;
        CREATE INDEX page_keys_person ON page_keys (person) WHERE ended_at IS NULL
        """,
    )


@steps()
def m009_two_more_reads_by_an_index(db: Database) -> None:
    """What was denied of a message, and when somebody did something last."""
    _make(
        db,
        """
        CREATE INDEX sign_questions_message ON sign_questions (message) WHERE message IS NOT NULL;
        CREATE INDEX audit_person ON audit (person, action, at)
        """,
    )


@steps()
def m010_what_the_clinic_knows_a_patient_by(db: Database) -> None:
    """The identifier of the clinic's own record and the birth date, where they were given."""
    db.conn.execute("ALTER TABLE people ADD COLUMN identifier TEXT")
    db.conn.execute("ALTER TABLE people ADD COLUMN born_on TEXT")


@steps()
def m011_rota_at_the_page(db: Database) -> None:
    """Shifts and days off that were set at the clinic page."""
    _make(
        db,
        """
        CREATE TABLE shifts (
            id INTEGER PRIMARY KEY, clinician TEXT NOT NULL, weekdays TEXT NOT NULL,
            opens TEXT NOT NULL, closes TEXT NOT NULL, made_at TEXT NOT NULL, ended_at TEXT
        ) STRICT;
        CREATE TABLE days_off (
            clinician TEXT NOT NULL, on_date TEXT NOT NULL, PRIMARY KEY (clinician, on_date)
        ) STRICT
        """,
    )


@steps()
def m012_asked_while_ill(db: Database) -> None:
    """Whether questions go on in a pause."""
    db.conn.execute("ALTER TABLE pauses ADD COLUMN asks INTEGER NOT NULL DEFAULT 0")


@steps()
def m013_passkeys(db: Database) -> None:
    """Passkeys to the clinic page, by their public half."""
    _make(
        db,
        """
        CREATE TABLE passkeys (
            id INTEGER PRIMARY KEY,
            person INTEGER NOT NULL REFERENCES people (id),
            credential BLOB NOT NULL UNIQUE, public_key BLOB NOT NULL,
            uses INTEGER NOT NULL, made_at TEXT NOT NULL
        ) STRICT;
        CREATE INDEX passkeys_person ON passkeys (person)
        """,
    )


def migrate(store: Store) -> None:
    """Bring the file to the newest shape. Before a step touches existing data, the file is copied
    beside itself as `<name>.before-<step>`; a file of a newer program is refused."""
    known = {step.name for step in steps.pending(Database(memory=True))}
    strangers = _applied_names(store) - known
    if strangers:
        raise StoreNewerError(
            f"{store.path} was written by a newer version of this program "
            f"(it has {', '.join(sorted(strangers))}); install that version, or restore a backup"
        )
    pending = steps.pending(store.db)
    if pending and _applied_names(store):
        _copy_aside(store, pending[0].name)
    # A command may start while the service does: the second one waits, and finds nothing to do.
    with store.transaction():
        steps.apply(store.db)


def _applied_names(store: Store) -> set[str]:
    """Steps the file says were applied, known to this program or not."""
    if "_sqlite_migrations" not in store.db.table_names():
        return set()
    sql = "SELECT name FROM _sqlite_migrations WHERE migration_set = 'nextmorning'"
    return {row["name"] for row in store.rows(sql)}


def _copy_aside(store: Store, step: str) -> None:
    target = store.path.with_name(f"{store.path.name}.before-{step}")
    if not target.exists():
        store.db.conn.execute("VACUUM INTO ?", [str(target)])
        target.chmod(0o600)
