"""Telephone numbers in one form, never with a guessed country."""

from __future__ import annotations

import pytest

from bot.phone_numbers import international_number, is_e164, number_in

# Numbers for fiction: 555-01xx (North American Numbering Plan). The Spanish one is any valid form.


@pytest.mark.parametrize(
    ("text", "region", "number"),
    [
        pytest.param("202-555-0143", "US", "+12025550143", id="as people write it"),
        pytest.param("(202) 555 0143", "US", "+12025550143", id="with brackets"),
        pytest.param("+44 20 7946 0222", "US", "+442079460222", id="a plus overrules the region"),
        pytest.param("011 44 20 7946 0222", "US", "+442079460222", id="so does the prefix abroad"),
        pytest.param("٢٠٢٥٥٥٠١٤٣", "US", "+12025550143", id="digits of another alphabet"),
        pytest.param("202-555-0143", "ES", None, id="not a number of that region"),
        pytest.param("555-0143", "US", None, id="the area is missing"),
        pytest.param("202-555-0143 ext 5", "US", None, id="an extension cannot be texted"),
        pytest.param("12345", "US", None, id="a short code"),
        pytest.param("", "US", None, id="nothing"),
        pytest.param("Ana", "US", None, id="a name"),
    ],
)
def test_a_number_of_a_region(text: str, region: str, number: str | None) -> None:
    """A number as people of a region write it, or None."""
    assert number_in(text, region) == number


@pytest.mark.parametrize(
    ("text", "number"),
    [
        pytest.param("+12025550143", "+12025550143", id="with a plus"),
        pytest.param("12025550143", "+12025550143", id="without one, as carriers do"),
        pytest.param("0012025550143", "+12025550143", id="with zeros for abroad"),
        pytest.param("+44 7700 900123", "+447700900123", id="a range that the tables do not know"),
        pytest.param("34600111", None, id="too short for its country"),
        pytest.param("12345", None, id="a short code"),
        pytest.param("QuickPay", None, id="a name"),
        pytest.param("+1202555014355555", None, id="too long"),
    ],
)
def test_a_number_with_its_country(text: str, number: str | None) -> None:
    """A sender as a carrier names it, or None: never read with a guessed country."""
    assert international_number(text) == number


@pytest.mark.parametrize(
    ("text", "good"),
    [
        pytest.param("+123456", False, id="one digit under the least"),
        pytest.param("+1234567", True, id="the least"),
        pytest.param("+123456789012345", True, id="the most"),
        pytest.param("+1234567890123456", False, id="one digit over the most"),
        pytest.param("+0234567890", False, id="no country begins with 0"),
        pytest.param("12025550143", False, id="no plus"),
    ],
)
def test_the_form_in_which_numbers_are_kept(text: str, good: bool) -> None:
    """A plus, and 7 to 15 digits of which the first is no 0."""
    assert is_e164(text) is good
