"""The register of sources: where the numbers of rules and protocols come from.

Titles are told in our own words. `how_known` says how far a fact was checked, so that nobody takes
a remembered figure for one that was read.
Read next: `protocols/*.toml`, where each number names its key.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

COMMON_PRACTICE = "common-practice"
"""Mark of a fact of the trade that has no published source."""

CONVENTION = "convention"
"""Mark of our own choice, made to have one answer where the literature gives none."""

OWN_SIMULATION = "own-simulation"
"""Mark of our own choice, tried on invented patients in the project's own simulation.

`nextmorning measure` gives its tables; no number of it was measured on people.
"""

MARKS = (COMMON_PRACTICE, CONVENTION, OWN_SIMULATION)


class HowKnown(StrEnum):
    """How far a source was checked."""

    READ = "read"
    SECONDARY = "secondary"  # abstract, table or summary seen, not the whole paper
    FROM_MEMORY = "from memory"


@dataclass(frozen=True)
class Source:
    """One published source.

    `year` None: a page or guideline that is kept current under one name. `doi` None: none seen.
    """

    key: str
    authors: str
    about: str
    year: int | None
    place: str
    how_known: HowKnown
    doi: str | None = None


_REGISTER = (
    Source(
        "beeharry-2006",
        "Beeharry and others",
        "Achilles pain in familial high cholesterol",
        2006,
        "Ann Rheum Dis 65:312-315",
        HowKnown.SECONDARY,
    ),
    Source(
        "beyer-2015",
        "Beyer and others",
        "heavy slow resistance against eccentric training, 58 people, one year",
        2015,
        "Am J Sports Med 43:1704-1711, table of the programme",
        HowKnown.SECONDARY,
        "10.1177/0363546515584760",
    ),
    Source(
        "boyd-2015",
        "Boyd and others",
        "what late recognition of a rupture costs",
        2015,
        "Br J Gen Pract 65:668-669",
        HowKnown.SECONDARY,
    ),
    Source(
        "breda-2021",
        "Breda and others",
        "progressive loading of the patellar tendon, raised while pain is at most 3 of 10",
        2021,
        "Br J Sports Med 55:501-509",
        HowKnown.FROM_MEMORY,  # citation seen, the limit of 3 recalled
        "10.1136/bjsports-2020-103403",
    ),
    Source(
        "chow-2022",
        "Chow and others",
        "how soon a text message is answered",
        2022,
        "Sex Health 19:145-147",
        HowKnown.SECONDARY,
    ),
    Source(
        "cook-purdam-2014",
        "Cook, Purdam",
        "the next day's response as the guide to tendon load",
        2014,
        "Br J Sports Med 48:506-509",
        HowKnown.FROM_MEMORY,
    ),
    Source(
        "csp-2024",
        "Chartered Society of Physiotherapy",
        "what to ask about pressed nerves low in the spine",
        2024,
        "public guidance",
        HowKnown.SECONDARY,
    ),
    Source(
        "farrar-2001",
        "Farrar and others",
        "what change on the 0-10 pain scale matters, 2,724 people in ten trials",
        2001,
        "Pain 94:149-158",
        HowKnown.SECONDARY,
    ),
    Source(
        "fda-2008",
        "US Food and Drug Administration",
        "boxed warning of the quinolone class: tendon trouble, hours to months after",
        2008,
        "label of the class",
        HowKnown.SECONDARY,
    ),
    Source(
        "foster-2001",
        "Foster and others",
        "rating a whole training session by perceived effort",
        2001,
        "J Strength Cond Res 15:109-115",
        HowKnown.SECONDARY,
    ),
    Source(
        "frandsen-2025",
        "Frandsen and others",
        "a run longer than the longest of 30 days, and injury, in 5,205 runners",
        2025,
        "Br J Sports Med 59:1203-1210",
        HowKnown.SECONDARY,
        "10.1136/bjsports-2024-109380",
    ),
    Source(
        "girft-cauda-equina",
        "Getting It Right First Time",
        "pathway for pressed nerves low in the spine",
        None,
        "public pathway, England",
        HowKnown.SECONDARY,
    ),
    Source(
        "impellizzeri-2020",
        "Impellizzeri and others",
        "load figures cannot tell whether a change raises the risk of injury",
        2020,
        "J Athl Train 55:885-901",
        HowKnown.SECONDARY,
    ),
    Source(
        "jonsson-2008",
        "Jonsson and others",
        "insertional tendons loaded from tiptoe to floor level and no lower, 27 people",
        2008,
        "Br J Sports Med 42:746-749",
        HowKnown.SECONDARY,
        "10.1136/bjsm.2007.039545",
    ),
    Source(
        "lagas-2021",
        "Lagas and others",
        "the change of VISA-A that matters: 14 points at 12 weeks",
        2021,
        "J Orthop Sports Phys Ther 51(10)",
        HowKnown.SECONDARY,
    ),
    Source(
        "magnusson-2010",
        "Magnusson and others",
        "collagen turnover over the days after exercise",
        2010,
        "Nat Rev Rheumatol 6:262-268",
        HowKnown.SECONDARY,
        "10.1038/nrrheum.2010.43",
    ),
    Source(
        "manning-2008",
        "Manning, Raghavan and Schuetze",
        "text classification by naive Bayes, chapter 13",
        2008,
        "Introduction to Information Retrieval, Cambridge University Press",
        HowKnown.FROM_MEMORY,
    ),
    Source(
        "nhs-cellulitis",
        "National Health Service, England",
        "hot red skin: when to be seen, and which signs of illness cannot wait",
        None,
        "public page on cellulitis",
        HowKnown.SECONDARY,
    ),
    Source(
        "nice-ng158",
        "National Institute for Health and Care Excellence",
        "clots in the leg and the lung: signs, scores, how soon to look",
        None,
        "guideline NG158",
        HowKnown.SECONDARY,
    ),
    Source(
        "nice-ng225",
        "National Institute for Health and Care Excellence",
        "self-harm: no score decides on help",
        None,
        "guideline NG225",
        HowKnown.FROM_MEMORY,
    ),
    Source(
        "nice-ng65",
        "National Institute for Health and Care Excellence",
        "inflammation of spine and joints: when to refer",
        None,
        "guideline NG65",
        HowKnown.SECONDARY,
    ),
    Source(
        "ottawa-rules",
        "The Ottawa ankle rules, as reviewed",
        "when an injured ankle needs a picture",
        None,
        "public summaries",
        HowKnown.SECONDARY,
    ),
    Source(
        "pringels-2025",
        "Pringels and others",
        "low against high compression in insertional tendons, 42 people",
        2025,
        "Br J Sports Med",
        HowKnown.SECONDARY,
        "10.1136/bjsports-2024-109138",
    ),
    Source(
        "robinson-2001",
        "Robinson and others",
        "the VISA-A questionnaire, its items and total",
        2001,
        "Br J Sports Med 35:335-341",
        HowKnown.FROM_MEMORY,  # points of items 7 and 8 by way of public scoring code
        "10.1136/bjsm.35.5.335",
    ),
    Source(
        "sen-1968",
        "Sen",
        "the slope as the median of all pairwise slopes",
        1968,
        "J Am Stat Assoc 63:1379-1389",
        HowKnown.SECONDARY,
    ),
    Source(
        "silbernagel-2007",
        "Silbernagel, Thomee, Eriksson, Karlsson",
        "going on with sport under a pain-monitoring model, 38 people",
        2007,
        "Am J Sports Med 35(6):897-906",
        HowKnown.SECONDARY,
        "10.1177/0363546506298279",
    ),
    Source(
        "silbernagel-2020",
        "Silbernagel, Hanlon, Sprague",
        "summary of the graded programme in four phases",
        2020,
        "J Athl Train 55(5):438-447",
        HowKnown.SECONDARY,
        "10.4085/1062-6050-356-19",
    ),
    Source(
        "silbernagel-crossley-2015",
        "Silbernagel, Crossley",
        "a programme for the return to sport, symptoms followed up to 48 hours",
        2015,
        "J Orthop Sports Phys Ther 45(11):876-886",
        HowKnown.FROM_MEMORY,  # the 48 hours seen in a summary, the next-morning limit recalled
        "10.2519/jospt.2015.5885",
    ),
    Source(
        "singh-2015",
        "Singh",
        "rupture of the Achilles tendon: signs and risk factors",
        2015,
        "BMJ 351:h4722",
        HowKnown.SECONDARY,
    ),
    Source(
        "smith-2019",
        "Smith and others",
        "exercise and musculoskeletal pain: back to baseline, no rise over two points",
        2019,
        "Br J Sports Med 53:907-912",
        HowKnown.SECONDARY,
    ),
)

SOURCES: dict[str, Source] = {source.key: source for source in _REGISTER}
"""Each source by its key."""


def is_known(key: str) -> bool:
    """Whether a key names a source of the register, or is one of the marks."""
    return key in SOURCES or key in MARKS
