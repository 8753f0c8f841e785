"""Lengths as people write them, against the inch and foot of the 1959 agreement."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sunplan.location.lengths import Units, format_length, parse_length
from sunplan.location.model import Outside

# One yard is 0.9144 metre exactly: the international yard and pound agreement of 1959
# (United States Federal Register 24 FR 5348, 1 July 1959). So 1 ft = 0.3048 m, 1 in = 0.0254 m.
FOOT = Fraction(9144, 10000) / 3
INCH = FOOT / 12


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("1 ft", 0.3048),
        ("1 in", 0.0254),
        ("3 feet", 0.9144),  # the yard itself
        ("1 foot", 0.3048),
        ("10 inches", 0.254),
        ("1 inch", 0.0254),
        ("7 ft 6 in", 2.286),
        ("7ft6in", 2.286),
        ("7 FT 6 In", 2.286),
        ("6 feet 4 inches", 1.9304),
        ("6'4\"", 1.9304),
        ("6' 4\"", 1.9304),
        ("6'-4\"", 1.9304),
        ("6' - 4\"", 1.9304),
        ("6′4″", 1.9304),
        ("6’4”", 1.9304),
        ("6'4''", 1.9304),
        ("6'", 1.8288),
        ('76"', 1.9304),
        ("6'4½\"", 1.9431),
        ("6'4 1/2\"", 1.9431),
        ("6'-4-1/2\"", 1.9431),
        ("6 ft 4.5 in", 1.9431),
        ("6.375 ft", 1.9431),
        ("11/16 in", 0.0174625),
        ('¾"', 0.01905),
        ('2⅞"', 0.073025),
        ("½ ft", 0.1524),
        ("2 1/2 ft", 0.762),
        ("18 in", 0.4572),
        ("2.3 m", 2.3),
        ("2.3m", 2.3),
        (".5 m", 0.5),
        ("2. m", 2.0),
        ("1 metre", 1.0),
        ("2 metres", 2.0),
        ("1 meter", 1.0),
        ("3 meters", 3.0),
        ("190 cm", 1.9),
        ("190 CM", 1.9),
        ("35 mm", 0.035),
        ("  2 m  ", 2.0),
        ("-40 cm", -0.4),
        ("−40 cm", -0.4),
        ("+40 cm", 0.4),
        ("-6'4\"", -1.9304),
        ("0 m", 0.0),
    ],
)
def test_text_to_metres(text: str, metres: float) -> None:
    """Worked out by hand from 0.3048 m a foot and 0.0254 m an inch."""
    assert parse_length(text) == pytest.approx(metres, rel=0, abs=1e-9)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "   ",
        "-",
        "1.9",  # which unit is for the file to say
        "m",
        "a yard",
        "3 yd",
        "5 mi",
        "1,9 m",
        "1.2.3 m",
        "1e3 m",
        "1_000 m",
        "nan m",
        "inf m",
        "0x10 m",
        "--2 m",
        "+-2 m",
        "2 - 3 m",
        "1/0 in",
        "1 m 20 m",
        "1 m 20 cm",
        "4 in 6 ft",
        "6 ft 4",
        "6'4",
        "6'-",
        "6 ft 4 in 2 in",
        "6 ft 2 ft",
        "6 ft -4 in -2 in",
        "٣ m",
        "2 m\x00",
        "2 m wide",
        "9" * 101 + " m",
        "9" * 5000 + " m",
    ],
)
def test_what_is_no_length(text: str) -> None:
    with pytest.raises(ValueError) as refusal:
        parse_length(text)
    assert str(refusal.value) == f"not a length: {text!r}"


@pytest.mark.parametrize(
    ("metres", "units", "text"),
    [
        (2.286, "ft", "7'6\""),
        (1.9431, "ft", "6'4½\""),
        (0.3048, "ft", "1'0\""),
        (0.0127, "ft", '½"'),
        (0.3175, "ft", "1'0½\""),
        (0.3047, "ft", "1'0\""),  # not 0'12"
        (-1.9304, "ft", "−6'4\""),
        (0.0, "ft", '0"'),
        (-0.001, "ft", '0"'),
        (1.234, "m", "1.23 m"),
        (-0.4, "m", "−0.40 m"),
        (-0.001, "m", "0.00 m"),
        (0.999, "m", "1.00 m"),
    ],
)
def test_metres_to_text(metres: float, units: Units, text: str) -> None:
    assert format_length(metres, units) == text


@pytest.mark.parametrize(("units", "step"), [("m", Fraction(1, 100)), ("ft", INCH / 2)])
@given(metres=st.floats(-500, 500))
def test_what_is_printed_reads_back(units: Units, step: Fraction, metres: float) -> None:
    """Printed to the centimetre or half inch: no more than half a step is lost."""
    back = parse_length(format_length(metres, units))
    assert abs(back - metres) <= float(step) / 2 + 1e-9


SPELLINGS = [
    ("{} ft {} in", " "),
    ("{}ft{}in", " "),
    ("{} feet {} inches", " "),
    ("{}'{}\"", " "),
    ("{}'-{}\"", " "),
    ("{}′ {}″", "-"),
    ("{}’{}”", "-"),
    ("{}'{}''", " "),
]


@given(
    spelling=st.sampled_from(SPELLINGS),
    feet=st.integers(0, 300),
    inches=st.integers(0, 11),
    sixteenths=st.integers(0, 15),
    sign=st.sampled_from(["", "-", "−"]),
)
def test_feet_and_inches_however_spelt(
    spelling: tuple[str, str], feet: int, inches: int, sixteenths: int, sign: str
) -> None:
    pattern, between = spelling
    rest = Fraction(sixteenths, 16)
    tail = f"{between}{rest.numerator}/{rest.denominator}" if rest else ""
    metres = parse_length(sign + pattern.format(feet, f"{inches}{tail}"))
    exact = feet * FOOT + (inches + rest) * INCH
    assert metres == pytest.approx(float(-exact if sign else exact), rel=0, abs=1e-9)


@given(number=st.decimals(0, 900, places=3))
@pytest.mark.parametrize(("unit", "in_a_metre"), [("mm", 1000), ("cm", 100), ("m", 1)])
def test_decimal_units(unit: str, in_a_metre: int, number: object) -> None:
    exact = Fraction(str(number)) / in_a_metre
    assert parse_length(f"{number} {unit}") == pytest.approx(float(exact), rel=0, abs=1e-9)


@pytest.mark.parametrize(("units", "bare_m"), [("m", 1.0), ("ft", 0.3048)])
def test_bare_numbers_are_in_the_files_unit(units: str, bare_m: float) -> None:
    """Whole or broken; text beside them keeps its own unit."""
    block = Outside.model_validate(
        {"at": [10, -2.5], "size": [1, "2.3 m", "7 ft 6 in"]}, context={"units": units}
    )
    assert block.at == pytest.approx((10 * bare_m, -2.5 * bare_m), abs=1e-9)
    assert block.size == pytest.approx((bare_m, 2.3, 2.286), abs=1e-9)
