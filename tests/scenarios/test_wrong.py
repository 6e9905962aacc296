"""Every scenario in scenarios/wrong fails with the one line its first line announces."""

from pathlib import Path

import pytest

from biomech.errors import BiomechError
from biomech.scenario import load

WRONG = sorted((Path(__file__).parents[2] / "scenarios" / "wrong").glob("*.toml"))
MARK = "# fails with: "


def announced(file: Path) -> str:
    first = file.read_text(encoding="utf-8").splitlines()[0]
    assert first.startswith("# fails "), f"{file.name} must begin with '{MARK}<text>'"
    return first


LOADING = [file for file in WRONG if announced(file).startswith(MARK)]


def test_the_family_is_there() -> None:
    assert len(LOADING) >= 30


@pytest.mark.parametrize("file", LOADING, ids=lambda f: f.stem)
def test_fails_with_what_it_announces(file: Path) -> None:
    with pytest.raises(BiomechError) as refused:
        load(file)
    message = str(refused.value)
    assert announced(file).removeprefix(MARK) in message
    assert len(message.splitlines()) == 1
    assert file.name in message
