"""Which number of a reply answers which of the questions that were put in one message.

By name, by unit, by what alone can take it; the others in turn. None where it cannot be told: no
number is ever left over. Read next: `tokens`, which cuts the reply; `reading`, which judges it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise

from dialogs.questions import PAINS, Kind
from dialogs.tokens import Token
from dialogs.turn import Asked, Question

VALUES = ("value", "all", "none", "yes", "no")
BREAKS = ("sep", "and", "link")
# What is left of a reply that cannot be placed.
UNPLACEABLE = ("under", "over", "range", "out_of", "word", "past", "clock")

# More painkillers than this are minutes, or anything [count]. Convention.
TABLETS_MAX = 8

# Names that fit more than one question, in the order in which they are tried.
ALSO = {
    "pain": ("pain", "during", "after", "worst"),
    "worst": ("worst", "during", "pain"),
    "effort": ("effort",),
}

Placed = list[tuple[Asked, Token]]


@dataclass
class _Mention:
    """A value and the names that stand with it."""

    value: Token
    labels: tuple[str, ...] = ()


def place(pieces: Iterable[Token], asked: tuple[Asked, ...]) -> Placed | None:
    """Each value with its question, in the order of the questions; None where that is unclear.

    Where a name may belong to the value on either side of it, the values are taken in the order in
    which the questions were put.
    """
    line = _fitting(pieces, asked)
    values = [n for n, piece in enumerate(line) if piece.kind in VALUES]
    if not values or any(piece.kind in UNPLACEABLE for piece in line):
        return None
    if any(piece.kind == "link" for piece in line[values[0] : values[-1]]):
        return None
    if any(one.kind == "unsure" and then.kind == "label" for one, then in pairwise(line)):
        return None  # "4 and a bit of stiffness": that has no number yet.
    ways = [_assigned(_mentions(line, behind=behind), asked) for behind in (False, True)]
    if ways[0] == ways[1]:
        return ways[0]
    in_turn = [way for way in ways if way and way == sorted(way, key=lambda pair: pair[1].at)]
    return in_turn[0] if len(in_turn) == 1 else None


def _assigned(mentions: list[_Mention], asked: tuple[Asked, ...]) -> Placed | None:
    if len(mentions) > len(asked):
        return None
    left, placed = list(asked), Placed()
    for mention in [one for one in mentions if one.labels]:
        question = _named(mention, left)
        if question is None or not _take(mention.value, question, left, placed):
            return None
    bare: list[Token] = []
    for value in [one.value for one in mentions if not one.labels]:
        kind = _needs(value, left)
        if kind is None:
            bare.append(value)
        elif not _take(value, _first(left, kind), left, placed):
            return None
    takers = [one for one in left if one.question.row.kind is not Kind.YES_NO]
    if len(bare) > len(takers):
        return None
    placed += zip(takers, bare, strict=False)
    return sorted(placed, key=lambda pair: asked.index(pair[0]))


def _fitting(pieces: Iterable[Token], asked: tuple[Asked, ...]) -> list[Token]:
    """The pieces, with a stroke between two answers ("4/20") no longer read as "out of", and a mark
    of yes ("thumbs up") dropped where nothing is asked that it may answer."""
    takes_yes = any(one.question.row.kind is Kind.YES_NO for one in asked)
    line = [*pieces, Token("sep"), Token("sep")]
    found: list[Token] = []
    taken = False
    for piece, after, then in zip(line, line[1:], line[2:], strict=False):
        drug = after.unit == "painkiller" and then.kind not in ("yes", "no")
        if taken:
            taken = False
            continue
        if takes_yes and piece.kind == "value" and piece.high <= TABLETS_MAX and drug:
            # "2 ibuprofen" is a yes, and "yes, 1 tablet" still one.
            taken = True
            if not found or found[-1].kind != "yes":
                found.append(replace(piece, kind="yes" if piece.high else "no"))
            continue
        if piece.kind in ("range", "and") and _names_two(found, after, then):
            # "no pain during or after"
            found += [Token("sep"), found[-2]]
            continue
        if piece.kind in ("yes", "no") and not piece.text.isascii() and not takes_yes:
            continue
        if piece.kind == "yes" and found and found[-1].kind == "yes":
            continue  # "yes i took one"
        if piece.out_of is not None and "/" in piece.text and not _is_whole(piece, asked):
            found += [
                replace(piece, out_of=None),
                Token("sep", "/"),
                Token("value", "", piece.out_of, piece.out_of),
            ]
        else:
            found.append(piece)
    return found


def _names_two(before: list[Token], after: Token, then: Token) -> bool:
    """Whether a value with one name has another, joined to the first."""
    kinds = [one.kind for one in before[-2:]]
    named = kinds[1:] == ["label"] and kinds[0] in VALUES
    return named and after.kind == "label" and then.kind not in VALUES


def _is_whole(piece: Token, asked: tuple[Asked, ...]) -> bool:
    """Whether what stands under the stroke is the whole of a scale, or of the sets."""
    wholes = {one.out_of for one in asked} | {
        one.question.row.highest for one in asked if one.question.row.kind is Kind.SCALE
    }
    return piece.out_of in wholes or len(asked) == 1


def _mentions(pieces: list[Token], *, behind: bool) -> list[_Mention]:
    """The values of a reply with their names, part by part: names stand before their values ("pain
    3 stiff 10") or behind them ("3 sets"), in one part all the same way: as it begins where each
    value has a name, else as `behind` says."""
    found: list[_Mention] = []
    part: list[Token] = []
    loose: list[Token] = []
    for piece in [*pieces, Token("sep")]:
        if piece.kind not in BREAKS:
            part.append(piece)
            continue
        if any(one.kind in VALUES for one in part):
            found += _of_part([*loose, *part], behind=behind)
            loose = []
        else:
            names = [one for one in part if one.kind == "label"]
            drug = {one.unit for one in names} == {"painkiller"}
            if drug and found and found[-1].value.kind == "yes":
                # "yes, ibuprofen. 45 min swim"
                found[-1].labels = ("painkiller",)
            else:
                # A name alone ("pain: 3") goes with the part that follows.
                loose += names
        part = []
    if loose and found and not found[-1].labels:
        found[-1].labels = tuple(one.unit for one in loose)
    return found


def _of_part(part: list[Token], *, behind: bool) -> list[_Mention]:
    line = [one for one in part if one.kind in (*VALUES, "label")]
    values = sum(one.kind in VALUES for one in line)
    named = sum(
        one.kind == "label" and (at == 0 or line[at - 1].kind != "label")
        for at, one in enumerate(line)
    )
    if named == values:
        behind = line[0].kind in VALUES
    if behind:
        line.reverse()
    found: list[_Mention] = []
    labels: list[str] = []
    for one in line:
        if one.kind == "label":
            labels.append(one.unit)
        else:
            # "no, just a walk": what was walked has no number yet.
            answers = one.kind in ("yes", "no")
            found.append(_Mention(one, tuple(n for n in labels if not answers or n != "activity")))
            labels = []
    if labels and found:
        answers = found[-1].value.kind in ("yes", "no")
        found[-1].labels += tuple(n for n in labels if not answers or n != "activity")
    return found[::-1] if behind else found


def _named(mention: _Mention, left: list[Asked]) -> Asked | None:
    """The question that a name means: the narrowest of the names counts."""
    special = [label for label in mention.labels if label not in ALSO] or list(mention.labels)
    if len(set(special)) > 1:
        special = [label for label in special if label != "pain"]
    if len(set(special)) != 1:
        return None
    for name in ALSO.get(special[0], (special[0],)):
        for one in left:
            if one.question.row.label == name:
                return one
    only = left[0] if len(left) == 1 else None
    pain = only is not None and only.question in PAINS
    return only if pain and special[0] in ("pain", "worst") else None


def _take(value: Token, question: Asked | None, left: list[Asked], placed: Placed) -> bool:
    """Give a value to a question that waits for one; False where it can not be that one's."""
    if question is None or question not in left:
        return False
    kind = question.question.row.kind
    if value.unit == "minutes" and kind is not Kind.MINUTES:
        return False
    if value.unit == "points" and kind is not Kind.SCALE:
        return False
    placed.append((question, value))
    left.remove(question)
    return True


def _first(left: list[Asked], kind: Kind) -> Asked | None:
    return next((one for one in left if one.question.row.kind is kind), None)


def _needs(value: Token, left: list[Asked]) -> Kind | None:
    """The kind of question that alone can take this value, or None where several can."""
    if value.kind == "value":
        kinds = {"minutes": Kind.MINUTES, "points": Kind.SCALE, "count": Kind.COUNT}
        sets = left and left[0].question.row.kind is Kind.SETS
        if value.unit == "count" and sets:
            return Kind.SETS
        return kinds.get(value.unit)
    if value.kind == "all":
        return Kind.SETS
    if value.kind == "none" and left and left[0].question.row.kind is Kind.YES_NO:
        return Kind.YES_NO
    if value.kind in ("yes", "no"):
        takes_no = value.kind == "no" and left and no_is_zero(left[0].question)
        return left[0].question.row.kind if takes_no else Kind.YES_NO
    return None


def no_is_zero(question: Question) -> bool:
    """Whether a bare "no" is a number here: no sets, no other activity."""
    return question in (Question.SETS_DONE, Question.ACTIVITY_MINUTES)
