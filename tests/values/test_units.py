import pytest

from pressworthy.values.units import PLACED, figure, parse, parse_pair


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("3 mm", "mm", 3),
        ("0.125 in", "mm", 3.175),
        ("12.5 in", "mm", 317.5),
        ("72 pt", "mm", 25.4),
        ("300 ppi", "ppi", 300),
        ("120 px/cm", "ppi", 304.8),
        ("152.4 lpi", "lines/cm", 60),
        ("60 lines/cm", "lines/cm", 60),
        ("1.5 MB", "kB", 1500),
    ],
)
def test_quantities_convert_to_the_canonical_unit(text: str, unit: str, value: float) -> None:
    assert parse(text, unit) == pytest.approx(value)


@pytest.mark.parametrize("text", ["3", "mm", "3 furlongs", "3 ppi", "1/8 in", "3 mm 4", ""])
def test_what_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="not a quantity"):
        parse(text, "mm")


def test_figures_are_rounded_for_a_reader() -> None:
    assert figure(299.962, "ppi") == "300 ppi"
    assert figure(0.0123) == "0.012"
    assert figure(3.175) == "3.2"
    assert figure(35.433) == "35.4"


@pytest.mark.parametrize("text", ["3.5 mm", "3.5mm", " 3,5  mm ", "0.35cm", "+3.5 mm"])
def test_one_grammar_reads_numbers_spaces_and_units(text: str) -> None:
    assert parse(text, "mm") == pytest.approx(3.5)
    assert parse(text, PLACED, bare="mm") == pytest.approx(3.5)


def test_a_bare_number_has_the_unit_it_is_given() -> None:
    assert parse("2", PLACED, bare="cm") == 20
    assert parse("96 px", PLACED, bare="mm") == pytest.approx(25.4)
    for text in ("2 px", "2"):
        with pytest.raises(ValueError, match="not a quantity in mm or cm or m or in or pt"):
            parse(text, "mm")


@pytest.mark.parametrize(
    ("text", "pair"),
    [
        ("210x148mm", (210, 148)),
        ("210 mm × 14,8 cm", (210, 148)),
        ("8 x 10 in", (203.2, 254)),
        ("96px x 192px", (25.4, 50.8)),
        ("96pxx192px", (25.4, 50.8)),
    ],
)
def test_two_quantities_share_a_unit_or_have_their_own(
    text: str, pair: tuple[float, float]
) -> None:
    assert parse_pair(text, PLACED) == pytest.approx(pair)


@pytest.mark.parametrize("text", ["210mm x 148", "210x148", "x148mm", "210x148mmx2", "210 148 mm"])
def test_what_is_no_pair_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="not two quantities in mm"):
        parse_pair(text, PLACED)
