"""House profiles: inheritance, locks, reasons, units, and every error with its place."""

from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from pressworthy.colour.condition import data_sheet
from pressworthy.colour.icc import parse
from pressworthy.house import (
    House,
    amount_from_elsewhere,
    load_house,
    show,
    validate_house,
)
from pressworthy.house.schema import house_schema
from pressworthy.plugins import Registry
from pressworthy.prepare.amount import derived_amount
from pressworthy.print.halftone import Screen
from pressworthy.print.printlook import press_of
from pressworthy.values.faults import SetupError

BUILT_IN = [
    *("coated-magazine", "newsprint", "mono", "screen", "lwc-magazine", "sc-magazine"),
    *("uncoated-colour", "uncoated-yellowish", "coated-no1", "coated-no3", "coated-no5"),
]


MONO_NEWS = "house: y\nkind: title\nstands on: mono\noutput: {condition: newsprint, reason: r}\n"


def write(folder: Path, name: str, text: str) -> str:
    (folder / f"{name}.yaml").write_text(text)
    return str(folder / f"{name}.yaml")


def errors(asked: str, registry: Registry) -> str:
    with pytest.raises(SetupError) as caught:
        load_house(asked, registry)
    return str(caught.value)


@pytest.mark.parametrize("name", BUILT_IN)
def test_built_in_output_types_load(name: str, registry: Registry) -> None:
    house = load_house(name, registry)
    assert house.kind == "output"
    assert len(house.chain) == 2
    assert {"icc-profile", "luminance", "credit"} <= house.rules.keys()


def test_quantities_arrive_in_canonical_units(coated: House) -> None:
    assert coated.output.ppi == 300
    assert coated.output.viewing_distance == pytest.approx(317.5)
    assert coated.rules["bleed"].options["least"] == 3.0


def test_the_schema_is_itself_valid(registry: Registry) -> None:
    for complete in (True, False):
        Draft202012Validator.check_schema(house_schema(registry.rules, complete=complete))


def test_a_title_overrides_with_a_reason(tmp_path: Path, registry: Registry) -> None:
    path = write(
        tmp_path,
        "weekly",
        "house: weekly\nkind: title\nstands on: newsprint\n"
        "output:\n  bleed: 6 mm\n  reason: wire stitching\n"
        "rules:\n  bleed:\n    least: 6 mm\n    reason: wire stitching\n",
    )
    house = load_house(path, registry)
    assert house.output.bleed == 6
    assert house.rules["bleed"].options["least"] == 6
    assert house.output.ppi == 200
    shown = show(path, registry, origin=True)
    assert "weekly.yaml:5" in shown
    assert "newsprint.yaml:" in shown
    assert "house.yaml:" in shown


def test_a_title_without_a_reason_is_refused(tmp_path: Path, registry: Registry) -> None:
    path = write(
        tmp_path,
        "weekly",
        "house: weekly\nkind: title\nstands on: newsprint\nrules:\n  bleed:\n    least: 6 mm\n",
    )
    assert f"{path}:5: rules / bleed: a title's difference needs a 'reason'" in errors(
        path, registry
    )


def test_a_publishers_standard_stands_under_every_output_type(
    tmp_path: Path, registry: Registry
) -> None:
    write(
        tmp_path,
        "house",
        "house: house\nkind: standard\nstands on: house\nlock: [credit]\n"
        "rules:\n  credit:\n    required: [creator]\n",
    )
    path = write(tmp_path, "mag", "house: mag\nkind: title\nstands on: coated-magazine\n")
    house = load_house(path, registry)
    assert house.rules["credit"].options["required"] == ["creator"]
    assert [Path(p).name for p in house.chain] == [
        "house.yaml", "house.yaml", "coated-magazine.yaml", "mag.yaml",
    ]  # fmt: skip
    # the same by name, with the publisher's folder given
    assert load_house("coated-magazine", registry, tmp_path).rules["credit"].options[
        "required"
    ] == ["creator"]


def test_a_locked_rule_cannot_be_changed_below(tmp_path: Path, registry: Registry) -> None:
    write(tmp_path, "house", "house: house\nkind: standard\nstands on: house\nlock: [credit]\n")
    path = write(
        tmp_path,
        "mag",
        "house: mag\nkind: title\nstands on: coated-magazine\n"
        "rules:\n  credit:\n    left out: too much work\n",
    )
    text = errors(path, registry)
    assert f"{path}:5: rules / credit: locked by the house at" in text
    assert "house.yaml:4" in text


def test_off_needs_a_reason_and_can_be_undone(tmp_path: Path, registry: Registry) -> None:
    path = write(
        tmp_path,
        "a",
        "house: a\nkind: output\nstands on: coated-magazine\nrules:\n"
        "  credit:\n    left out: credits are kept in the archive\n",
    )
    house = load_house(path, registry)
    assert "credit" not in house.rules
    assert house.left_out == {"credit": "credits are kept in the archive"}
    child = write(
        tmp_path,
        "b",
        "house: b\nkind: output\nstands on: a\nrules:\n  credit:\n    left out: false\n",
    )
    assert "credit" in load_house(child, registry).rules
    bad = write(
        tmp_path,
        "c",
        "house: c\nkind: output\nstands on: coated-magazine\n"
        "rules:\n  credit:\n    left out: true\n",
    )
    assert "c.yaml:6" in errors(bad, registry)


def test_every_error_comes_at_once_with_its_place(tmp_path: Path, registry: Registry) -> None:
    path = write(
        tmp_path,
        "bad",
        "house: bad\nkind: output\nstands on: coated-magazine\n"
        "output:\n  ppi: 300\n  blead: 3 mm\n"
        "rules:\n  resolution:\n    below: 3 mm\n    severity:\n      too-few-pixels: fatal\n"
        "  resolutoin:\n    below: 0 %\n",
    )
    text = errors(path, registry)
    assert f"{path}:5: output / ppi: 300 is not a quantity" in text
    assert f"{path}:6: output / blead: unknown; did you mean 'bleed'?" in text
    assert f"{path}:9: rules / resolution / below: '3 mm' is not a quantity" in text
    assert f"{path}:11: rules / resolution / severity / too-few-pixels: 'fatal' is not one" in text
    assert f"{path}:12: rules / resolutoin: unknown; did you mean 'resolution'?" in text


def test_numbers_are_required_not_defaulted(tmp_path: Path, registry: Registry) -> None:
    path = write(
        tmp_path,
        "own",
        "house: own\nkind: output\noutput:\n  medium: print\n  colour: cmyk\n  ppi: 300 ppi\n"
        "  bleed: 3 mm\n  viewing distance: 12.5 in\n  condition: coated\n"
        "rules:\n  bleed:\n    severity: {short-bleed: stop}\n",
    )
    text = errors(path, registry)
    assert "'least' is missing (bleed on every edge that bleeds)" in text
    assert "'thin-bleed' is missing" in text


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("house: x\nkind: standard\nstands on: house\n", "no output of its own"),
        ("house: x\nkind: output\nstands on: nowhere\n", "not found"),
        ("house: x\nkind: output\nstands on: y.yaml\n", "not found"),
        ("house: x\nkind: output\nstands on: x.yaml\n", "x.yaml:3) stands on x"),
        (
            "house: x\nkind: output\nstands on: mono\noutput: {median: [84 L*, 45 L*]}\n",
            "the darkest, 84 L*, lies above the lightest, 45 L*",
        ),
        ("house: x\nkind: output\nstands on: coated-magazine\noutput: {ppi: 9000 ppi}\n", "more"),
        ("house: x\nkind: output\nstands on: mono\noutput: {condition: satin}\n", "no condition"),
    ],
)
def test_wrong_profiles_are_refused(
    tmp_path: Path, registry: Registry, text: str, word: str
) -> None:
    assert word in errors(write(tmp_path, "x", text), registry)


def test_a_profile_is_called_by_its_files_name(tmp_path: Path, registry: Registry) -> None:
    path = write(tmp_path, "quarterly", "house: slack-tide\nkind: output\nstands on: mono\n")
    told = f"{path}:1: house: 'slack-tide' is not the file's name, by which it is asked for: write "
    assert errors(path, registry) == told + "'quarterly'"
    with pytest.raises(SetupError, match="write 'quarterly'"):
        validate_house(path, registry)
    write(tmp_path, "quarterly", "house: quarterly\nkind: output\nstands on: mono\n")
    assert load_house("quarterly", registry, tmp_path).name == "quarterly"


@pytest.mark.parametrize("name", BUILT_IN)
def test_a_lock_faults_no_built_in_output_type(
    name: str, tmp_path: Path, registry: Registry
) -> None:
    rules = sorted(load_house(name, registry).rules)
    standard = f"house: house\nkind: standard\nstands on: house\nlock: [{', '.join(rules)}]\n"
    write(tmp_path, "house", standard)
    free = load_house(name, registry)
    assert load_house(name, registry, tmp_path).rules == free.rules
    # the publisher's own value of a locked rule stands, beside what the output type adds
    added = "rules:\n  luminance: {severity: {too-dark: note}}\n"
    write(tmp_path, "house", standard + added)
    locked = load_house(name, registry, tmp_path).rules["luminance"]
    assert locked.severity["too-dark"] == "note"
    assert locked.options == free.rules["luminance"].options
    below = (
        f"house: own\nkind: output\nstands on: {name}\nrules: {{credit: {{left out: no room}}}}\n"
    )
    assert "own.yaml:4: rules / credit: locked" in errors(write(tmp_path, "own", below), registry)


def test_an_unknown_name_lists_the_known(registry: Registry) -> None:
    assert "coated-magazine" in errors("coated", registry)


def test_a_house_standard_is_valid_without_an_output(tmp_path: Path, registry: Registry) -> None:
    validate_house(
        write(tmp_path, "house", "house: house\nkind: standard\nstands on: house\n"), registry
    )
    with pytest.raises(SetupError):
        validate_house(write(tmp_path, "house", "house: house\nkind: standard\nx: 1\n"), registry)


def test_the_fingerprint_follows_the_values(tmp_path: Path, registry: Registry) -> None:
    one = load_house(write(tmp_path, "a", "house: a\nkind: output\nstands on: mono\n"), registry)
    same = load_house(
        write(tmp_path, "a", "# words\nhouse: a\nkind: output\nstands on: mono\n"), registry
    )
    other = load_house(
        write(tmp_path, "a", "house: a\nkind: output\nstands on: mono\noutput: {ppi: 301 ppi}\n"),
        registry,
    )
    assert one.fingerprint() == same.fingerprint() != other.fingerprint()


def test_the_ink_limit_of_an_output_is_the_lower_of_house_and_condition(
    tmp_path: Path, registry: Registry
) -> None:
    def limit(stands_on: str, ink: str) -> float | None:
        text = f"house: a\nkind: output\nstands on: {stands_on}\nrules: {{ink: {{{ink}}}}}\n"
        return load_house(write(tmp_path, "a", text), registry).output.most_ink

    assert limit("coated-magazine", "limit: 260 %") == 260
    assert limit("coated-magazine", "limit: 330 %") == 300
    assert limit("newsprint", "limit: 240 %") == 220
    assert limit("coated-magazine", "left out: the printer sets it") == 300
    assert limit("mono", "limit: 260 %") is None


def test_a_circle_is_named_whole_with_every_file_and_line(
    tmp_path: Path, registry: Registry
) -> None:
    write(tmp_path, "b", "house: b\nkind: output\nabout: It.\nstands on: c\n")
    write(tmp_path, "c", "house: c\nkind: output\nstands on: b.yaml\n")
    told = errors(write(tmp_path, "a", "house: a\nkind: title\nstands on: b\n"), registry)
    b, c = (tmp_path / "b.yaml", tmp_path / "c.yaml")
    assert told == f"{c}:3: stands on: in a circle: b ({b}:4) stands on c ({c}:3) stands on b"
    for number in range(12):
        below = f"house: h{number}\nkind: output\nstands on: h{number + 1}\n"
        write(tmp_path, f"h{number}", below)
    told = errors(str(tmp_path / "h0.yaml"), registry)
    assert "more than 10 house profiles, each standing on the next" in told


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ("extends: mono\n", "3: extends: is now called 'stands on'"),
        (
            "stands on: mono\nrules: {credit: {off: the archive has them}}\n",
            "4: rules / credit / off: is now called 'left out'",
        ),
    ],
)
def test_the_new_name_of_an_old_word_is_told(
    written: str, told: str, tmp_path: Path, registry: Registry
) -> None:
    assert told in errors(write(tmp_path, "x", f"house: x\nkind: output\n{written}"), registry)


class TestAmount:
    """An amount of sharpening belongs to the output that it was stated for."""

    @pytest.mark.parametrize(
        "stated",
        [
            "output: {viewing distance: 60 in, reason: a poster}",
            "output: {ppi: 250 ppi, reason: the printer asks for it}",
            "output: {condition: uncoated, reason: other paper}",
            "prepare: {radius: 0.0006 rad, reason: as ever}",
        ],
    )
    def test_an_output_stated_anew_has_none(
        self, tmp_path: Path, registry: Registry, stated: str
    ) -> None:
        head = "house: x\nkind: title\nstands on: coated-magazine\n"
        path = write(tmp_path, "x", f"{head}{stated}\n")
        house = load_house(path, registry)
        assert house.prepare is not None and "amount" not in house.prepare
        assert "amount:" not in show(path, registry, origin=True)
        # and with a word on it the person's stays
        below = "house: y\nkind: title\nstands on: x.yaml\nprepare: {amount: 0.3, reason: r}\n"
        own = load_house(write(tmp_path, "y", below), registry)
        assert own.prepare is not None and own.prepare["amount"] == 0.3

    def test_what_does_not_bear_on_it_leaves_it(self, tmp_path: Path, registry: Registry) -> None:
        text = "house: x\nkind: title\nstands on: mono\noutput: {bleed: 6 mm, reason: r}\n"
        house = load_house(write(tmp_path, "x", text), registry)
        assert house.prepare is not None and house.prepare["amount"] == 0.97

    def test_where_none_can_be_derived_the_old_one_stays(
        self, tmp_path: Path, registry: Registry
    ) -> None:
        bare = tmp_path / "bare"
        bare.mkdir()
        own = registry.condition_folders[0] / "coated"
        text = (own / "condition.yaml").read_text()
        angles = text[text.index("screen angles") : text.index("ink limit")]
        (bare / "condition.yaml").write_text(text.replace(angles, "").replace(": coated", ": bare"))
        for name in ("cmyk.icc", "gray.icc"):
            (bare / name).write_bytes((own / name).read_bytes())
        head = "house: x\nkind: title\nstands on: coated-magazine\noutput:\n"
        text = f"{head}  condition: bare\n  reason: r\n"
        house = load_house(write(tmp_path, "x", text), registry)
        assert house.prepare is not None and house.prepare["amount"] == 0.91
        assert not amount_from_elsewhere(house)
        text = f"{text}  viewing distance: 60 in\n"
        house = load_house(write(tmp_path, "x", text), registry)
        assert amount_from_elsewhere(house)

    def test_a_printers_own_profile_has_one_derived(
        self, tmp_path: Path, registry: Registry
    ) -> None:
        own = load_house("newsprint", registry).output.condition.profiles["cmyk"]
        (tmp_path / "press.icc").write_bytes(own.read_bytes())
        head = "house: x\nkind: title\nstands on: newsprint\noutput:\n  condition: press.icc\n"
        house = load_house(write(tmp_path, "x", f"{head}  reason: r\n"), registry)
        assert house.prepare is not None and "amount" not in house.prepare
        # its dots are those of the condition it takes the place of, and that is told
        condition = house.output.condition
        press = press_of(condition)
        assert press.device == 1270 and press.screens[0] == Screen(4.0, 75)
        told = condition.assumption()
        assert "ruling, device resolution and screen angles as of newsprint" in told
        assert "pressworthy" not in told and "written under output" in told
        # what the house states is no assumption
        stated = "  ruling: 48 lines/cm\n  device resolution: 1800 dpi\n"
        house = load_house(write(tmp_path, "x", f"{head}{stated}  reason: r\n"), registry)
        press = press_of(house.output.condition)
        assert press.device == 1800 and press.screens[3] == Screen(4.8, 45)
        assert "Assumed: screen angles as of newsprint." in house.output.condition.assumption()

    def test_a_press_of_four_inks_prints_mono_too(
        self, tmp_path: Path, registry: Registry, houses: dict[str, House]
    ) -> None:
        own = houses["newsprint"].output.condition
        (tmp_path / "press.icc").write_bytes(own.profiles["cmyk"].read_bytes())
        stated = "  ruling: 40 lines/cm\n  device resolution: 1270 dpi\n  reason: r\n"
        head = "house: x\nkind: title\nstands on: mono\noutput:\n  condition: press.icc\n"
        house = load_house(write(tmp_path, "x", f"{head}{stated}"), registry)
        output = house.output
        gray = parse(output.condition.profiles["gray"].read_bytes())
        assert (gray.kind, gray.space) == ("output", "gray")
        assert "made from the black ink of" in data_sheet(output.condition)
        # the paper and the black ink alone, as measured for the same press
        assert output.span == pytest.approx(own.span(in_black=True), abs=0.5)
        news = load_house(write(tmp_path, "y", MONO_NEWS), registry)
        assert derived_amount(house) == pytest.approx(derived_amount(news), abs=0.03)
        # and so where a condition's own file names no gray profile
        bare = tmp_path / "bare"
        bare.mkdir()
        text = Path(registry.condition_folders[0] / "newsprint" / "condition.yaml").read_text()
        text = text[: text.index("  gray:\n")] + text[text.index("source:\n") :]
        (bare / "condition.yaml").write_text(text.replace(": newsprint", ": bare"))
        (bare / "cmyk.icc").write_bytes(own.profiles["cmyk"].read_bytes())
        path = write(tmp_path, "z", MONO_NEWS.replace("newsprint", "bare").replace(": y", ": z"))
        made = load_house(path, registry).output.condition.profiles["gray"]
        assert made.read_bytes() == output.condition.profiles["gray"].read_bytes()

    def test_black_that_prints_no_picture_alone_is_told(
        self,
        tmp_path: Path,
        registry: Registry,
        houses: dict[str, House],
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        own = houses["newsprint"].output.condition.profiles["cmyk"]
        (tmp_path / "press.icc").write_bytes(own.read_bytes())
        text = MONO_NEWS.replace("newsprint", "press.icc")
        # newsprint's black leaves a sixth of the light
        monkeypatch.setattr("pressworthy.colour.own_profile._HARDLY", 0.1)
        told = errors(write(tmp_path, "y", text), registry)
        assert "is for print in cmyk; this output is print in gray: name a condition" in told

    def test_a_profile_alone_asks_for_the_ruling(self, tmp_path: Path, registry: Registry) -> None:
        own = load_house("coated-magazine", registry)
        (tmp_path / "press.icc").write_bytes(own.output.condition.profiles["cmyk"].read_bytes())
        text = (
            Path(own.chain[-1])
            .read_text("utf-8")
            .replace("condition: coated", "condition: press.icc")
        )
        text = text.replace("house: coated-magazine", "house: x")
        stated = load_house(write(tmp_path, "x", text), registry)
        assert stated.prepare is not None and stated.prepare["amount"] == 0.91
        text = text.replace("  amount: 0.91\n", "  radius: 0.0004 rad\n")
        path = write(tmp_path, "x", text)
        told = errors(path, registry)
        assert "states no ruling" in told and "write 'ruling: ... lines/cm' under output" in told
        path = write(tmp_path, "x", text.replace("output:\n", "output:\n  ruling: 70 lines/cm\n"))
        press = press_of(load_house(path, registry).output.condition)
        assert press.screens[0] == Screen(7.0, 75) and press.device == 2400

    def test_a_condition_may_lie_beside_the_house(self, tmp_path: Path, registry: Registry) -> None:
        own = registry.condition_folders[0] / "coated"
        folder = tmp_path / "conditions" / "hall"
        folder.mkdir(parents=True)
        for file in own.iterdir():
            (folder / file.name).write_bytes(file.read_bytes())
        head = "house: x\nkind: title\nstands on: coated-magazine\noutput:\n"
        text = f"{head}  condition: conditions/hall\n  ruling: 80 lines/cm\n  reason: r\n"
        condition = load_house(write(tmp_path, "x", text), registry).output.condition
        assert condition.name == "hall" and condition.values["ruling"] == 80
        assert press_of(condition).screens[0] == Screen(8.0, 75) and not condition.assumption()

    def test_a_screen_must_state_it(self, tmp_path: Path, registry: Registry) -> None:
        text = "house: x\nkind: output\nstands on: house\noutput:\n  medium: screen\n"
        text += "  colour: rgb\n  ppi: 192 ppi\n  bleed: 0 mm\n  viewing distance: 24 in\n"
        text += "  condition: srgb\nrules:\n  ink: {left out: no ink}\n"
        text += "  tone-range: {left out: no dots}\n"
        path = write(tmp_path, "x", text)
        assert "'amount' is missing" in errors(path, registry)
        write(tmp_path, "x", f"{text}prepare: {{amount: 0.4}}\n")
        assert load_house(path, registry).prepare is not None
