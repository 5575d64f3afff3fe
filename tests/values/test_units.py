import pytest

from pressworthy.values.units import figure, parse


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
