"""The machine as it is drawn: picks, boards on the seat and fields are where they are described."""

from lxml import etree

from jobcheck.commands.picture import MachinePicture, machine_picture
from jobcheck.facts.chain import chain
from jobcheck.facts.facts import Facts
from jobcheck.facts.frames import frames_of
from jobcheck.reports.pages import pictures
from tests.golden.play import EXAMPLES
from tests.pages.reading import SVG, root_of


def drawn() -> tuple[MachinePicture, etree._Element]:
    found = machine_picture(EXAMPLES / "soil-logger", "soil-logger")
    return found, root_of(pictures.machine(found))


def test_every_pick_is_where_it_is_described() -> None:
    found, picture = drawn()
    groups = picture.findall(f".//{SVG}g[@class='feeder']")
    places = {}
    for group in groups:
        label, circle = group.findtext(f"{SVG}text"), group.find(f"{SVG}circle")
        assert label is not None
        assert circle is not None
        places[label.split()[0]] = float(circle.get("cx", "")), -float(circle.get("cy", ""))
    picks = {name: feeder.pick for name, feeder in found.shop.feeders.items() if feeder.pick}
    assert places == {name: (pick.x, pick.y) for name, pick in picks.items()}
    assert len(places) == 34


def test_every_placement_is_on_the_board_that_is_drawn() -> None:
    found, _ = drawn()
    facts, frames = Facts(found.shop), frames_of(found.shop, "soil-logger")
    for cell, body in zip(frames.cells(), found.cells, strict=True):
        for reference, _ in found.shop.placed("soil-logger"):
            machine = chain(facts, "soil-logger", reference, cell, frames=frames).machine
            assert abs(machine.x - body.centre[0]) <= body.length / 2
            assert abs(machine.y - body.centre[1]) <= body.width / 2


def test_fields_are_those_measured() -> None:
    found, _ = drawn()
    fields = dict(found.fields)
    for name, camera in found.machine.cameras.items():
        assert camera.field_mm is not None
        assert {fields[name].length, fields[name].width} == set(camera.field_mm)


def test_each_rack_place_and_obstacle_is_drawn() -> None:
    found, picture = drawn()
    ids = {group.get("id") for group in picture.iter(f"{SVG}g")}
    assert {f"rack-rack-{name}" for name in found.machine.rack} <= ids
    assert {f"obstacle-obstacles-{name}" for name in found.machine.obstacles} <= ids
    assert "bin-reject_bin" in ids
