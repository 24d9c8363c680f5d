"""The two clean shops that faults are planted into, each read once."""

from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path as FilePath

from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.state.state import HeldFiles, State, folder_state
from tests.faults.scene import Scene
from tests.support.edited import TODAY, files_of
from tests.support.generate import AS_OF, Size, make_files

EXAMPLE = FilePath(__file__).parents[2] / "examples" / "soil-logger"
_SEED = 7
_SIZE = Size(placements=60, parts=30)


@dataclass(frozen=True)
class Base:
    """A clean shop: its reading, and the day on which it has no findings."""

    name: str
    reading: Reading
    today: date

    def scene(self) -> Scene:
        """Return a copy to plant a fault into."""
        assert self.reading.shop
        return Scene(self.reading.shop)


@cache
def bases() -> tuple[Base, ...]:
    """Return the clean example, and one generated shop with a tray, a stick and a strip."""
    generated = State("generated", HeldFiles(make_files(_SEED, _SIZE)), "generated")
    return (
        Base("soil-logger", _plainly(folder_state(EXAMPLE)), TODAY),
        Base("generated", _with_more_carriers(_plainly(generated)), AS_OF),
    )


def _plainly(state: State) -> Reading:
    """Read a shop as it is written after an edit, so that only edited files are read again."""
    shop = read_shop(state).shop
    assert shop
    return _read(Scene(shop))


def _read(scene: Scene) -> Reading:
    files = HeldFiles(files_of(scene.plain, indent=None))
    reading = read_shop(State("clean", files, scene.shop.name))
    assert not reading.faults, reading.faults
    return reading


def _with_more_carriers(reading: Reading) -> Reading:
    """Take three parts out of their tapes: into a tray, a stick, and onto a strip on the bed."""
    assert reading.shop
    scene = Scene(reading.shop)
    pins, stick, chip = scene.chip_of_pins(), scene.chip_of_pins(1), scene.chip(1)
    scene.drop(f"{pins.path}.tape", f"{pins.path}.row", f"{pins.path}.slot")
    scene.puts(
        {
            f"{pins.path}.carrier": "tray",
            f"{pins.path}.tray": {
                "columns": 10,
                "rows": 8,
                "pitch_mm": [12.0, 12.0],
                "attitude": 0,
            },
            f"{pins.path}.pick": {"x": 300.0, "y": 170.0, "z": -19.0, "rotation": 0},
            f"{pins.path}.remaining": 80,
        }
    )
    feed = reading.shop.machine.feeder_rows[stick.feeder.row or ""].feed_direction
    scene.drop(f"{stick.path}.tape")
    scene.puts(
        {
            f"{stick.path}.carrier": "stick",
            f"{stick.path}.stick": {"pitch_mm": 8.0, "pin1": "q1"},
            f"{stick.path}.pick.rotation": (feed + 180) % 360 - 180,
            f"{stick.path}.remaining": 40,
        }
    )
    scene.drop(f"{chip.path}.row", f"{chip.path}.slot")
    scene.puts(
        {
            f"{chip.path}.carrier": "cut-tape",
            f"{chip.path}.feed_direction": 0,
            f"{chip.path}.pick": {"x": 200.0, "y": 300.0, "z": -19.0, "rotation": 90},
            f"{chip.path}.remaining": 40,
        }
    )
    return _read(scene)
