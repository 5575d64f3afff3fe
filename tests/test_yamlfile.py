"""Strict reading: what other YAML readers let pass is refused, all at once, with its line."""

from pathlib import Path

import pytest

from pressworthy.values.faults import SetupError
from pressworthy.yamlfile import MOST_YAML_BYTES, read


def faults(tmp_path: Path, text: str | bytes) -> list[str]:
    path = tmp_path / "h.yaml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(SetupError) as caught:
        read(path)
    return [str(f).removeprefix(str(path) + ":") for f in caught.value.faults]


def test_scalars_follow_yaml_1_2(tmp_path: Path) -> None:
    path = tmp_path / "h.yaml"
    path.write_text(
        "off: on\nyes: no\ntime: 12:30\nn: 10\nx: 1.5\ne: 1e3\nt: true\nnothing:\nq: '010'\n"
    )
    assert read(path).value == {
        "off": "on", "yes": "no", "time": "12:30", "n": 10, "x": 1.5, "e": 1000.0, "t": True,
        "nothing": None, "q": "010",
    }  # fmt: skip


def test_origins_tell_file_and_line(tmp_path: Path) -> None:
    path = tmp_path / "h.yaml"
    path.write_text("a:\n  b: 1\n  c: [x,\n    y]\n")
    origins = read(path).origins
    assert origins["a",].line == 1
    assert origins["a", "b"].line == 2
    assert origins["a", "c", 1].line == 4


@pytest.mark.parametrize(
    ("text", "line", "word"),
    [
        ("a: 010\n", 1, "ambiguous"),
        ("a: 1\nb: 2\na: 3\n", 3, "first on line 1"),
        ("a: &x 1\n", 1, "anchors"),
        ("a: *x\n", 1, "aliases"),
        ("<<: {a: 1}\n", 1, "merge keys"),
        ("a: !!python/object:os.system x\n", 1, "tag"),
        ("a: 1\n---\nb: 2\n", 2, "second document"),
        ("- a\n", 1, "mapping"),
        ("", 1, "empty"),
        ("1: a\n", 1, "not text"),
        ("a: [1, 2\n", 2, "not YAML"),
        ("a: \x07\n", 1, "not YAML"),
        (b"a: \xff\n", 1, "UTF-8"),
    ],
)
def test_surprises_are_refused(tmp_path: Path, text: str | bytes, line: int, word: str) -> None:
    found = faults(tmp_path, text)
    assert found[0].startswith(f"{line}:")
    assert word in found[0]


def test_all_faults_come_at_once(tmp_path: Path) -> None:
    assert len(faults(tmp_path, "a: 010\nb: &x 1\nb: 2\n")) == 3


def test_depth_and_size_are_bounded(tmp_path: Path) -> None:
    assert "deeper" in faults(tmp_path, "a: " + "[" * 5000 + "]" * 5000)[0]
    assert "larger" in faults(tmp_path, "a: " + "x" * MOST_YAML_BYTES)[0]


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(SetupError, match=r"none\.yaml: cannot be read"):
        read(tmp_path / "none.yaml")
