"""A no to a closed question is never the end of the words that led to it."""

from __future__ import annotations

import asyncio
import os
import shutil
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from world import MONDAY, Voice, World, world_at

from dialogs.topics import COURTESY, heard, topics_of
from rules.history import Tier
from rules.lexicon import shipped_lexicon

MESSAGES = Path(__file__).parents[1] / "decides" / "messages"
ALONE = {key: sign.sign.asked for key, sign in shipped_lexicon("en").signs.items()}
QUESTION = {key: sign.sign.closed_question for key, sign in shipped_lexicon("en").signs.items()}

# Words that nothing but a closed question comes of, and the sign it is about.
ASKED = [
    ("went down like a sack in the hall, woke up with the dog licking me", "lung-clot"),
    ("could it be dvt", "leg-clot"),
]

# Spoken of such that only a question can tell.
DARK = "I am done with everything"

# A message of words: under three nothing is told by it (`dialogs.waiting.TOLD_WORDS`).
WORDS_MIN = 3

# Conversations of four messages that the suite plays; NEXTMORNING_WORDS=500 plays more.
EXAMPLES = int(os.environ.get("NEXTMORNING_WORDS", "10"))


async def _denies_all(voice: Voice, said: list[str]) -> list[str]:
    """Answers no for as long as the last message is a closed question."""
    while any(said[-1].startswith(question) for question in QUESTION.values()):
        said = await voice.says("no")
    return said


@pytest.mark.parametrize(("words", "sign"), ASKED)
async def test_denied_words_are_shown_to_a_clinician(world: World, words: str, sign: str) -> None:
    """With the question and its answer, on the next list and when asked for; the patient hears who
    will see them and how to hurry it."""
    ilse = await world.clinician("Ilse")
    ana = await world.patient()
    said = await ana.says("2 10")
    asked = await ana.says(words)

    said = await ana.says("no")

    shown = f'"{words}" (Asked: {ALONE[sign]} Answered: no.)'
    assert asked[-1] == QUESTION[sign]
    assert "will see your words" in said[0]
    assert "reply NOW" in said[0]
    assert await world.escalations(ana) == []
    assert shown in (await ilse.says("words Ana"))[0]


async def test_denied_words_come_with_the_daily_list(world: World) -> None:
    """Unasked, and once."""
    ilse = await world.clinician("Ilse")
    ana = await world.patient()
    await ana.says(ASKED[0][0])
    await ana.says("no")
    ilse.hears()

    await world.at("08:20")

    shown = [text for text in ilse.hears() if "Not understood" in text]
    assert len(shown) == 1
    assert ASKED[0][0] in shown[0]
    assert "Answered: no" in shown[0]


async def test_now_after_a_no_brings_the_words_to_a_clinician_at_once(world: World) -> None:
    """The way that the patient was told of works."""
    ana = await world.patient()
    await ana.says(ASKED[0][0])
    await ana.says("no")

    await ana.says("NOW")

    (one,) = await world.escalations(ana)
    assert one.tier is Tier.SAME_DAY
    assert ASKED[0][0] in one.words


async def test_a_pain_that_was_asked_about_leaves_no_words(world: World) -> None:
    """Numbers are on the record; there is nothing to read."""
    ilse = await world.clinician("Ilse")
    ana = await world.patient(usual_pain=8)

    said = await ana.says("8 10")
    while any(said[-1].startswith(question) for question in QUESTION.values()):
        said = await ana.says("no")
        assert "Good to know" in said[0]

    assert await ilse.says("words Ana") == ["Nothing that I could not read in 28 days."]


async def test_words_asked_about_beside_others_that_were_answered_yes(world: World) -> None:
    """The yes ends every question; words of another message are kept for the clinician."""
    ilse = await world.clinician("Ilse")
    ana = await world.patient()
    await ana.says(ASKED[0][0])
    await ana.says(ASKED[1][0])

    await ana.says("yes")

    assert [one.sign for one in await world.escalations(ana)] == ["lung-clot"]
    assert ASKED[1][0] in (await ilse.says("words Ana"))[0]


async def test_the_question_about_a_crisis_names_whom_to_talk_to(world: World) -> None:
    """The line stands in the question itself."""
    ana = await world.patient()

    said = await ana.says(DARK)

    assert said[-1].startswith(QUESTION["crisis"])
    assert world.clinic.crisis_line in said[-1]


async def test_a_denied_crisis_goes_to_a_person_the_same_day(world: World) -> None:
    """With the words and the no; the patient hears so, and may go on training."""
    ilse = await world.clinician("Ilse")
    ana = await world.patient()
    await ana.says("2 10")
    await ana.says(DARK)
    ilse.hears()

    said = await ana.says("no")

    (one,) = await world.escalations(ana)
    assert (one.sign, one.tier, one.stops_loading) == ("crisis-denied", Tier.SAME_DAY, False)
    told = "\n".join(ilse.hears())
    assert DARK in told
    assert "Answered: no" in told
    assert "somebody asks today how you are" in said[0]
    assert world.clinic.crisis_line in said[0]
    for _ in range(3):
        await world.at("08:00")
        await ana.says("2 10")
        assert (await world.decision(ana))[0] != "stop"


def _labelled(language: str) -> list[str]:
    rows = [
        line.split("\t")[2]
        for kind in ("measure", "ordinary")
        for line in (MESSAGES / f"{kind}_{language}.tsv").read_text().splitlines()
        if line and not line.startswith("#")
    ]
    return [t for t in rows if sum(w.isalpha() for w in t.split()) >= WORDS_MIN]


def _is_answered(text: str, language: str) -> bool:
    """Whether the text is thanks, a greeting or a joke, which gets a human word and no more, or a
    question that is answered and says nothing besides."""
    found = heard(text, language)
    kinds = topics_of(language)
    return found is not None and (
        not found.rest or all(kinds[one.key] == COURTESY for one in found.topics)
    )


OWN_WORK = """
SELECT (SELECT count(*) FROM answers) + (SELECT count(*) FROM audit)
     + (SELECT coalesce(sum(length(words)), 0) FROM escalations)
     + (SELECT count(*) FROM inbox WHERE outcome = 'unread')
     + (SELECT count(*) FROM outbox WHERE picture IS NOT NULL) AS n
"""


def _messages(language: str) -> st.SearchStrategy[str]:
    """Labelled messages, and words that nobody labelled, in any order."""
    told = st.sampled_from(_labelled(language))
    word = st.text("abcdefghijklmnopqrstuvwxyz", min_size=2, max_size=9)
    own = st.lists(word, min_size=WORDS_MIN, max_size=8).map(" ".join)
    return st.lists(told | own, min_size=1, max_size=2).map(". ".join)


@pytest.fixture(scope="module", params=["en", "es"])
def enrolled(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with a clinician and a patient of the language."""
    path = tmp_path_factory.mktemp(request.param) / "world.sqlite"

    async def enrol() -> None:
        world = world_at(path)
        async with world.stage:
            await world.clinician("Ilse")
            ana = await world.patient()
            if request.param == "es":
                await ana.says("español")

    asyncio.run(enrol())
    return path


def test_no_words_are_lost(enrolled: Path, tmp_path: Path) -> None:
    """Every message of words, every question after it answered no, ends as an answer, an action, an
    escalation, or a line that a clinician is shown."""
    language = enrolled.parent.name[:2]

    @settings(max_examples=EXAMPLES, derandomize=True, deadline=None)
    @given(texts=st.lists(_messages(language), min_size=4, max_size=4, unique=True))
    def ends_somewhere(texts: list[str]) -> None:
        shutil.copy(enrolled, tmp_path / "world.sqlite")
        assert asyncio.run(_lost(tmp_path / "world.sqlite", texts, language)) == []

    ends_somewhere()


async def _lost(path: Path, texts: list[str], language: str) -> list[tuple[str, list[str]]]:
    """The messages that nothing came of, with what was said to them."""
    world = world_at(path, MONDAY + timedelta(minutes=1))
    lost = []
    async with world.stage:
        ana = Voice(world, "Ana")
        for text in texts:
            await ana.says("START")
            (before,) = await world.rows(OWN_WORK)
            said = await ana.says(text)
            while await world.rows("SELECT 1 FROM sign_questions WHERE settled_at IS NULL"):
                said = await ana.says("no")
            (after,) = await world.rows(OWN_WORK)
            if after["n"] == before["n"] and not _is_answered(text, language):
                lost.append((text, said))
    return lost
