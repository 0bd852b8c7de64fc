"""Phone numbers in one form, E.164: what a channel is given and what the store keeps.

Never guesses a country: a number without its country code is read only with a region named in the
configuration, and one that cannot be read is None. Read next: `bot.channels.sms_gateway.channel`.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import phonenumbers
from phonenumbers import NumberParseException, PhoneNumber, PhoneNumberFormat

# How long a given-up number stays with nobody, at the least [days]: until then "START" on it is
# that of whoever had it. Source: 47 CFR 52.15(f)(1)(ii), FCC 18-177 (from memory); other countries
# wait longer.
KEPT_DAYS = 45

# "+", a digit 1-9, then 6 to 14 more. Source: ITU-T E.164 (at most 15 digits); the lower bound is
# a convention, above every short code.
E164 = re.compile(r"\+[1-9][0-9]{6,14}")

REGIONS = frozenset(phonenumbers.SUPPORTED_REGIONS)
"""Regions a number can be read in, as ISO 3166 letters."""


def number_in(text: str, region: str) -> str | None:
    """A number as people of a region write it, in E.164; None unless it is a valid one.

    `region`: ISO 3166 letters; a "+" or the region's prefix for abroad overrules it.
    """
    return _read(text, region, phonenumbers.is_valid_number)


def international_number(text: str) -> str | None:
    """A number with its country code, with or without "+" or "00" before it, in E.164.

    Only its length is judged: a number range may be newer than the tables of the library, and a
    sender that a carrier names does exist. None for short codes and for names.
    """
    digits = text.strip().removeprefix("+").removeprefix("00")
    return _read(f"+{digits}", None, phonenumbers.is_possible_number)


def is_e164(text: str) -> bool:
    """Whether a text has the form in which numbers are kept."""
    return E164.fullmatch(text) is not None


def _read(text: str, region: str | None, is_good: Callable[[PhoneNumber], bool]) -> str | None:
    try:
        number = phonenumbers.parse(text, region)
    except NumberParseException:
        return None
    if number.extension or not is_good(number):
        return None
    found = phonenumbers.format_number(number, PhoneNumberFormat.E164)
    return found if is_e164(found) else None
