"""Kits: where they are found, what is understood of them, what is told of a bad one."""

from __future__ import annotations

from pathlib import Path

import pytest

from sunplan.errors import InputError, LocationError
from sunplan.location.kit import KINDS, find, known, read_kit
from sunplan.location.read import read

VAN = Path(__file__).parents[1] / "shared" / "kits" / "van.toml"

HOUSE = """
[location]
name = "Ferry house"
latitude = 55.03
longitude = 9.42
plan_up = 340

[[room]]
name = "parlour"
outline = [[0, 0], [4, 0], [4, 3], [0, 3]]
height = 2.4
mark = [{ name = "by the stove", at = [2, 2], height = [1.0, 1.8] }]

[[setup]]
name = "late news"
room = "parlour"
mark = "by the stove"
camera = { at = [0.5, 0.5], height = 1.4, toward = "by the stove", view = [40, 23] }
exposure = { iso = 800, stop = 2.8 }
plays = "night"
minutes = 30
key = { lamp = "led 60", from = [3.5, 0.5], height = 2 }
"""
KIT = """
name = "barge"
lamp = [{ name = "led 60", lux_at_1m = 9000, watts = 75 }]
frame = [{ name = "1x1 m half", size = [1, 1], loss = 0.75 }]
flag = [{ name = "board", size = ["90 cm", 1.2], owned = 2 }]
stand = [{ name = "light stand", lowest = 1.2, highest = 3 }]
gel = [{ name = "nd .3", density = 0.3 }]
reflector = [{ name = "five foot", size = ["5 ft", "5 ft"], sides = ["black", "white"] }]
cloth = [{ name = "cloth", width = "54 in", length = 20, weight = 7.5, rent = 4 }]
case = [{ name = "trunk", inside = [1.2, 0.5, 0.4] }]
"""


def house_with(folder: Path, name: str | None) -> Path:
    """A location file in a folder, its setup using a kit by name or none."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "house.toml"
    path.write_text(HOUSE + (f'kit = "{name}"\n' if name is not None else ""), encoding="utf-8")
    return path


def shelve(folder: Path, name: str, text: str = KIT) -> Path:
    """A kit file on the shelf `shared/kits/` of a folder."""
    path = folder / "shared" / "kits" / f"{name}.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def kit_named(text: str, old: str, new: str) -> str:
    """The kit's text with one part of it replaced."""
    assert text.count(old) == 1
    return text.replace(old, new)


@pytest.mark.parametrize("shelf", [".", "..", "../.."])
def test_found_beside_or_above_the_location(tmp_path: Path, shelf: str) -> None:
    house = house_with(tmp_path / "film" / "locations", "barge")
    kit_file = shelve((house.parent / shelf).resolve(), "barge")
    location = read(house)
    assert location.kit_of(location.setup[0]).name == "barge"
    assert find("barge", house.parent) == kit_file


def test_found_from_another_working_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    house = house_with(tmp_path / "film", "barge")
    shelve(tmp_path, "barge")
    monkeypatch.chdir(house.parent)
    assert read("house.toml").kits["barge"].lamp[0].lux_at_1m == 9000


def test_the_nearest_of_two_shelves_is_taken(tmp_path: Path) -> None:
    house = house_with(tmp_path / "film", "barge")
    shelve(tmp_path, "barge")
    shelve(house.parent, "barge", kit_named(KIT, "9000", "4500"))
    assert read(house).kits["barge"].lamp[0].lux_at_1m == 4500


def test_not_found_below_or_beside_the_shelf(tmp_path: Path) -> None:
    house = house_with(tmp_path / "film", "barge")
    shelve(house.parent / "elsewhere", "barge")
    (tmp_path / "shared").mkdir()
    (tmp_path / "shared" / "barge.toml").write_text(KIT, encoding="utf-8")
    with pytest.raises(LocationError) as refused:
        read(house)
    assert str(refused.value) == (
        f'{house}: setup "late news" › kit: "barge" is not known; known: default '
        "(a kit is a file shared/kits/NAME.toml)"
    )


def test_a_kit_that_is_not_known_has_a_suggestion(tmp_path: Path) -> None:
    house = house_with(tmp_path, "brage")
    shelve(tmp_path, "barge")
    assert known(tmp_path)[:2] == ["barge", "default"]
    with pytest.raises(LocationError) as refused:
        read(house)
    assert '› kit: "brage" is not known; did you mean "barge"?' in str(refused.value)


def test_a_kit_of_the_files_own_name_comes_before_the_packages(tmp_path: Path) -> None:
    house = house_with(tmp_path, None)
    shelve(tmp_path, "default")
    location = read(house)
    assert location.kit_of(location.setup[0]).name == "barge"


@pytest.mark.parametrize(
    ("name", "size_m"),
    [
        ("18x24 flag", (0.4572, 0.6096)),
        ("24x36 flag", (0.6096, 0.9144)),
        ("24x72 cutter", (0.6096, 1.8288)),
        ("4x4 flag", (1.2192, 1.2192)),
        ("4x8 floppy", (1.2192, 2.4384)),
    ],
)
def test_stock_flags_of_the_default_kit_and_the_van(
    tmp_path: Path, name: str, size_m: tuple[float, float]
) -> None:
    """Sizes that flags are sold in, in inches and feet: common practice, no source."""
    location = read(house_with(tmp_path, None))
    for kit in (location.kit_of(location.setup[0]), read_kit(VAN)):
        (flag,) = (flag for flag in kit.flag if flag.name == name)
        assert flag.size == pytest.approx(size_m, abs=1e-9)
        assert flag.owned >= 1


def test_the_default_kit_can_light_and_hold(tmp_path: Path) -> None:
    kit = read(house_with(tmp_path, None)).kits["default"]
    assert kit.lamp_named("led 150").lux_at_1m > kit.lamp_named("led 60").lux_at_1m
    assert kit.frame_named("4x4 half").size == pytest.approx((1.2192, 1.2192))
    assert [stand.lowest < stand.highest for stand in kit.stand] == [True]
    # Neutral density is sold in steps of a stop, 0.3 each: common practice, no source.
    assert [gel.density for gel in kit.gel] == [0.3, 0.6, 0.9, 1.2]


def test_everything_of_the_packages_kits_has_a_weight_and_a_size(tmp_path: Path) -> None:
    """A pack list weighs and stows all of it; cases and sandbags travel loose."""
    location = read(house_with(tmp_path, None))
    for kit in (location.kit_of(location.setup[0]), read_kit(VAN)):
        things = [(kind, one) for kind in KINDS for one in getattr(kit, kind)]
        assert len(things) > 20
        assert [one.name for _, one in things if not one.weight] == []
        assert {kind for kind, one in things if one.packed is None} == {"case", "bag"}


def test_flags_come_smallest_first(tmp_path: Path) -> None:
    flags = '[{ name = "big", size = [2, 2] }, { name = "tall", size = [0.1, 3] }, '
    text = kit_named(KIT, "flag = [", f"flag = {flags}")
    kit = read_kit(shelve(tmp_path, "barge", text))
    assert [flag.name for flag in kit.flag] == ["tall", "board", "big"]


def test_bare_lengths_of_a_kit_are_metres_in_a_house_in_feet(tmp_path: Path) -> None:
    house = house_with(tmp_path, "barge")
    text = house.read_text(encoding="utf-8")
    for old, new in (
        ("plan_up", 'units = "ft"\nplan_up'),
        ("[4, 0], [4, 3], [0, 3]", "[13, 0], [13, 10], [0, 10]"),
        ("height = 2.4", "height = 8"),
    ):
        text = kit_named(text, old, new)
    house.write_text(text, encoding="utf-8")
    shelve(tmp_path, "barge")
    location = read(house)
    kit = location.kits["barge"]
    assert location.room[0].height == pytest.approx(2.4384)
    assert (kit.flag[0].size, kit.frame[0].size) == ((0.9, 1.2), (1, 1))


BAD = [
    ("density = 0.3", "density = 0", 'gel "nd .3" › density: 0 is not right; expected the density, '
     "above 0; 0.3 costs one stop"),
    ("density = 0.3", "denisty = 0.3", 'gel "nd .3" › denisty: unknown key; did you mean '
     '"density"?'),
    ("owned = 2", "owned = 1.5", 'flag "board" › owned: 1.5 is not right; expected how many are '
     "owned: a whole number, 0 or more"),
    ("owned = 2", "owned = -1", 'flag "board" › owned: -1 is not right; expected how many are '
     "owned: a whole number, 0 or more"),
    ('"90 cm"', '"90 sm"', 'flag "board" › size: ["90 sm", 1.2] is not right; expected [width, '
     'height], each above 0; write a length like 1.9, "190 cm", "6 ft 4 in" or "6\'4\\""'),
    ("watts = 75", "beam = 40", 'lamp "led 60" › watts: is missing; expected the watts it draws '
     "from the wall, above 0"),
    ("watts = 75", "watts = 75, beam = 180", 'lamp "led 60" › beam: 180 is not right; expected the '
     "beam angle in degrees, above 0, below 180"),
    ("highest = 3", "highest = 1", 'stand "light stand": lowest is above highest; swap them'),
    ("loss = 0.75", "loss = -1", 'frame "1x1 m half" › loss: -1 is not right; expected the stops '
     "it costs, 0 or more"),
    ('name = "barge"\n', "", "name: is missing; expected a name in quotes, on one line"),
    ("weight = 7.5", "weight = -1", 'cloth "cloth" › weight: -1 is not right; expected the weight '
     "of one in kilograms, 0 or more"),
    ('"54 in"', "0", 'cloth "cloth" › width: 0 is not right; expected the roll\'s width, above 0'),
    ('"black", "white"', '"blakc"', 'reflector "five foot" › sides: ["blakc"] is not right; '
     'expected its sides, of "black", "white" and "silver"'),
    ("0.5, 0.4", "0.5", 'case "trunk" › inside: [1.2, 0.5] is not right; expected [length, width, '
     "height] inside, each above 0"),
    ("gel =", "gels =", 'gels: unknown key; did you mean "gel"?'),
    ("gel = [", 'gel = [{ name = "nd .3", density = 0.3 }, ', 'gel "nd .3": this name stands 2 '
     "times; give each its own"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "message"), BAD)
def test_a_bad_kit_is_told_by_file_and_key(
    tmp_path: Path, old: str, new: str, message: str
) -> None:
    house = house_with(tmp_path, "barge")
    kit_file = shelve(tmp_path, "barge", kit_named(KIT, old, new))
    with pytest.raises(LocationError) as refused:
        read_kit(kit_file)
    assert str(refused.value) == f"{kit_file}: {message}"
    with pytest.raises(LocationError) as refused:
        read(house)
    assert str(refused.value) == f'{house}: kit "barge" ({kit_file}): {message}'


def test_mistakes_of_a_kit_and_of_its_location_are_told_together(tmp_path: Path) -> None:
    house = house_with(tmp_path, "barge")
    house.write_text(kit_named(house.read_text(encoding="utf-8"), "340", "3400"), encoding="utf-8")
    text = kit_named(kit_named(KIT, "9000", "0"), "loss = 0.75", "loss = true")
    shelve(tmp_path, "barge", text)
    with pytest.raises(LocationError) as refused:
        read(house)
    keys = [" ".join(str(line).split(": ")[:-1]) for line in refused.value.problems]
    assert len(keys) == 3
    assert any("location › plan_up" in key for key in keys)
    assert any('lamp "led 60" › lux_at_1m' in key for key in keys)
    assert any('frame "1x1 m half" › loss' in key for key in keys)


def test_a_broken_kit_file_is_told_with_its_line(tmp_path: Path) -> None:
    house = house_with(tmp_path, "barge")
    kit_file = shelve(tmp_path, "barge", "name = 'barge'\nlamp = [\n")
    with pytest.raises(InputError) as refused:
        read(house)
    message = str(refused.value)
    assert message.startswith(f'{house}: kit "barge": {kit_file}: is not valid TOML: ')
    assert message.endswith("(at line 3, column 1, the end of the file)")


def test_the_kits_lamp_is_wanted_not_the_default_kits(tmp_path: Path) -> None:
    house = house_with(tmp_path, "barge")
    shelve(tmp_path, "barge", kit_named(KIT, "led 60", "led 600"))
    with pytest.raises(LocationError) as refused:
        read(house)
    assert str(refused.value) == (
        f'{house}: setup "late news" › key › lamp: "led 60" is not known; did you mean "led 600"? '
        '(kit "barge")'
    )
