"""What polarity rests on: the flag, the levels, the conventions; and what was not checked."""

import pytest

from jobcheck.findings import Command, Level, Unchecked, sentences
from jobcheck.rules.base import Inspection
from jobcheck.rules.registry import BY_NAME
from jobcheck.shop.paths import show
from tests.rules.test_pads import board, found
from tests.support.edited import TODAY, edited, edited_shop, linted, starter

JOB = "jobs.first-board"
LIST = f"{JOB}.placements"
FLAG = "polarised-flag-contradicted"


def named(edits: str, recorded: str | None = None) -> list[tuple[str, str]]:
    rules = (FLAG, "rotation-convention-missing")
    good = edited(recorded).shop if recorded is not None else None
    findings = linted(edited(edits), good).findings
    return [(f.rule, show(f.path)) for f in findings if f.rule in rules]


def unchecked(edits: str, rule: str) -> list[Unchecked]:
    inspection = Inspection(edited_shop(edits), TODAY)
    return [one for one in BY_NAME[rule](inspection) if isinstance(one, Unchecked)]


@pytest.mark.parametrize(
    ("edits", "is_found"),
    [
        ("outlines.sod-123.polarised: false", True),
        ("outlines.chip-0805.pin1_at_zero: left", True),
        ("outlines.chip-0805.pin1_means: plus", True),
        ("feeders.f02.tape.pin1: holes", True),
        ("outlines.chip-0805.pin1_at_zero: left\noutlines.chip-0805.same_turned_deg: 180", False),
        ("outlines.soic-8.same_turned_deg: 180", True),
        ("", False),
    ],
)
def test_a_flag_beside_a_named_pin_1(edits: str, is_found: bool) -> None:
    assert [rule for rule, _ in named(edits)] == [FLAG] * is_found


def test_a_flag_fallen_since_the_record_is_an_error_and_can_be_put_back() -> None:
    bare = (
        "outlines.soic-8.pin1_at_zero: ~\noutlines.soic-8.pin1_means: ~\nfeeders.f05.tape.pin1: ~\n"
    )
    fallen = bare + "outlines.soic-8.polarised: false"
    assert named(fallen) == []
    good = edited(bare).shop
    (finding,) = [f for f in linted(edited(fallen), good).findings if f.rule == FLAG]
    assert (finding.level, finding.expected) == (Level.ERROR, "polarised true")
    flag = "outlines.soic-8.polarised"
    commands = [step.arguments for step in finding.remedy if isinstance(step, Command)]
    assert commands == [("restore", flag), ("keep", "--label", "TEXT", "--on-purpose", flag)]
    assert "U1" in finding.consequence
    assert named(fallen, recorded=fallen) == []


def test_a_flag_with_both_causes_is_one_finding() -> None:
    assert named("outlines.sod-123.polarised: false", recorded="") == [
        (FLAG, "outlines.sod-123.polarised")
    ]


SQUARE = "outlines.chip-0805.body_mm: [2.0, 2.0]\noutlines.chip-0805.terminals: "


@pytest.mark.parametrize(
    ("edits", "is_found"),
    [
        (SQUARE + "4", True),
        (SQUARE + "2", False),
        (SQUARE + "4\noutlines.chip-0805.same_turned_deg: 90", False),
        (SQUARE + "4\noutlines.chip-0805.body_mm: [2.0, 1.6]", False),
        (SQUARE + "4\noutlines.chip-0805.body_mm: [2.0, 1.7]", True),
    ],
)
def test_a_square_part_of_many_terminals(edits: str, is_found: bool) -> None:
    expected = [("polarised-flag-contradicted", "outlines.chip-0805.polarised")]
    assert named(edits) == expected * is_found


ALL = ("chip-0603", "chip-0805", "sod-123", "soic-8")
NO_LEVEL = "".join(f"outlines.{name}.zero: ~\n" for name in ALL)


@pytest.mark.parametrize(
    ("edits", "paths"),
    [
        ("outlines.chip-0603.zero: ~", ["outlines.chip-0603.zero"]),
        (f"{LIST}.zero: B\noutlines.chip-0603.zero: ~", ["outlines.chip-0603.zero"]),
        (f"{LIST}.zero: ~", [f"{LIST}.zero"]),
        (NO_LEVEL, ["outlines.chip-0603.zero"]),
        (NO_LEVEL + f"{LIST}.zero: ~", []),
        (NO_LEVEL + f"{LIST}.zero: ~\noutlines.chip-0603.zero: A", [f"{LIST}.zero"]),
        (
            "outlines.chip-0805.zero: ~\noutlines.chip-0805.body_mm: [2, 2]\n"
            "outlines.chip-0805.terminals: 4\noutlines.chip-0805.same_turned_deg: 90",
            [],
        ),
    ],
)
def test_a_missing_level_is_named_where_another_is_declared(edits: str, paths: list[str]) -> None:
    assert [path for rule, path in named(edits) if rule == "rotation-convention-missing"] == paths


@pytest.mark.parametrize("through", ["", "y", "x"])
def test_the_convention_that_the_pads_fit_is_named(through: str) -> None:
    names = {"": "as-placed", "y": "through-top-mirrored-y", "x": "through-top-mirrored-x"}
    bottom = board(side="bottom", through=through) + f"{LIST}.bottom: ~"
    (finding,) = [
        f for f in linted(edited(bottom)).findings if f.rule == "rotation-convention-missing"
    ]
    assert finding.level is Level.ERROR
    assert f"write bottom: {names[through]}." in sentences(finding.remedy)
    assert f"fit {names[through]} alone. " in sentences(finding.remedy)
    assumed = edited(bottom + f"\n{LIST}.bottom_positions: ~")
    (finding,) = [f for f in linted(assumed).findings if f.rule == "rotation-convention-missing"]
    assert "if positions are seen through the top" in sentences(finding.remedy)


def test_pads_that_fit_several_conventions_name_none() -> None:
    one = f"{JOB}.side: bottom\n{LIST}.U1.side: bottom\n{LIST}.bottom: ~"
    (finding,) = [
        f for f in linted(edited(one)).findings if f.rule == "rotation-convention-missing"
    ]
    assert "declare which it is" in sentences(finding.remedy)


@pytest.mark.parametrize(
    ("edits", "names"),
    [
        (f"{LIST}.D1.rotation: ~", "D1 of first-board has"),
        (f"{LIST}.D1.rotation: ~\n{LIST}.R1.rotation: ~", "D1, R1 of first-board have"),
        ("".join(f"{LIST}.{ref}.rotation: ~\n" for ref in
                 ("R1", "R2", "R3", "C1", "C2", "D1", "D2", "U1")), ""),
        (f"{LIST}.D1.rotation: ~\n{LIST}.D1.fitted: no", ""),
        (f"{LIST}.D1.rotation: 0", ""),
    ],
)  # fmt: skip
def test_a_row_without_a_rotation(edits: str, names: str) -> None:
    findings = [f for f in linted(edited(edits)).findings if f.rule == "rotation-doubtful"]
    expected = [f"{names} no rotation."] if names else []
    assert [finding.message for finding in findings] == expected


# the right culprit


def test_one_outline_on_the_bottom_blames_the_convention_and_says_what_else_fits() -> None:
    """Mirrored y and mirrored x differ by half a turn at every angle."""
    diodes = "".join(
        line + "\n"
        for line in board(side="bottom", through="y").splitlines()
        if "soic8" not in line
    )
    (finding,) = found(diodes + f"{LIST}.bottom: through-top-mirrored-x\n{MEANS}")
    assert (finding.rule, show(finding.path)) == ("list-turned-from-pads", f"{LIST}.bottom")
    assert "through-top-mirrored-y" in finding.message
    assert "The drawing of sod-123 could be wrong instead." in sentences(finding.remedy)


def test_positions_that_would_fit_too_are_named() -> None:
    """Pads seen from the bottom, declared as seen through the top: as if the angles were wrong."""
    listed = board(side="bottom") + f"{LIST}.bottom_positions: "
    assert found(listed + "through-top") == []
    (finding,) = found(listed + "as-placed")
    assert (finding.rule, show(finding.path)) == (
        "list-turned-from-pads",
        f"{LIST}.bottom_positions",
    )
    assert finding.message == (
        "the pads of first-board fit bottom_positions through-top, not as-placed."
    )
    diodes = "".join(line + "\n" for line in listed.splitlines()[:-1] if "soic8" not in line)
    (finding,) = found(diodes + f"{LIST}.bottom_positions: as-placed")
    assert show(finding.path) == f"{LIST}.bottom"
    assert "bottom_positions through-top would fit too." in sentences(finding.remedy)


def test_a_drawing_that_its_footprint_contradicts_is_not_blamed_on_the_convention() -> None:
    diodes = "".join(
        line + "\n" for line in board(side="bottom").splitlines() if "soic8" not in line
    )
    drawn = "outlines.sod-123.pin1_at_zero: right\noutlines.sod-123.pad1_at_zero: left\n"
    reels = "feeders.f03.tape.pin1: ~\n"
    (finding,) = found(diodes + drawn + reels + MEANS)
    assert finding.rule == "outline-drawing-contradicts-pads"
    assert finding.level is Level.ERROR


MEANS = "outlines.sod-123.pad1_means: cathode\n"
FOOT = "outlines.sod-123.pad1_at_zero: "


@pytest.mark.parametrize(
    ("edits", "level"),
    [
        (MEANS + FOOT + "right", Level.ERROR),
        (FOOT + "right", Level.WARNING),
        ("outlines.sod-123.pad1_means: anode\n" + FOOT + "left", Level.ERROR),
        ("outlines.sod-123.pad1_means: anode\n" + FOOT + "right", None),
        (FOOT + "left", None),
        (NO_LEVEL + f"{LIST}.zero: ~\n" + FOOT + "top", Level.WARNING),
        (NO_LEVEL + f"{LIST}.zero: ~\n" + MEANS + FOOT + "right", Level.ERROR),
    ],
)
def test_what_rests_on_an_assumption_is_a_warning(edits: str, level: Level | None) -> None:
    findings = found(edits)
    assert [finding.level for finding in findings] == ([level] if level else [])
    if level is Level.WARNING:
        assert ", if " in findings[0].consequence


def test_one_of_many_is_certain_without_a_named_pad() -> None:
    (finding,) = found(board({3: 90}))
    assert finding.level is Level.ERROR


def test_a_footprint_noted_wrongly_is_found_at_the_footprint() -> None:
    (finding,) = found(board() + MEANS + FOOT + "right")
    assert (finding.rule, show(finding.path)) == (
        "outline-drawing-contradicts-pads",
        "outlines.sod-123.pad1_at_zero",
    )


def test_undeclared_positions_make_a_warning() -> None:
    bottom = board({3: 90}, side="bottom")
    (finding,) = found(bottom)
    assert finding.level is Level.ERROR
    (finding,) = found(bottom + f"{LIST}.bottom_positions: ~")
    assert finding.level is Level.WARNING
    assert "no bottom_positions" in finding.consequence


# what was not checked


def test_listings_that_nothing_shows_are_counted() -> None:
    (entry,) = unchecked("", "placement-turned-from-pads")
    assert (entry.concerns, entry.cause, entry.enabled_by, entry.amount) == (
        "listing of 3 placements",
        "no pad 1 in the rows, no look at them",
        "pin1_checked",
        3,
    )
    assert unchecked(f"{LIST}.pin1_checked: 2026-11-20", "placement-turned-from-pads") == []


def test_a_look_that_no_longer_fits_is_counted_by_its_own_cause() -> None:
    look = f"{LIST}.pin1_checked: {{date: 2026-11-20, under: {{D1: p-000000000000}}}}"
    causes = {e.cause: e.amount for e in unchecked(look, "placement-turned-from-pads")}
    assert causes == {
        "no pad 1 in the rows, no look at them": 2,
        "its part, angle, side, drawing or level changed since it was looked at": 1,
    }


def test_drawings_and_feeds_that_nothing_shows_are_counted() -> None:
    (entry,) = unchecked("", "outline-drawing-contradicts-pads")
    assert (entry.concerns, entry.cause) == (
        "drawing of 3 placements",
        "no pad1_at_zero on sod-123, soic-8",
    )
    (entry,) = unchecked("feeders.f03.row: ~", "carrier-pin1-unproven")
    assert (entry.concerns, entry.cause) == ("polarity of 1 feeder", "no feed_direction on f03")


def test_undeclared_positions_on_the_bottom_are_counted() -> None:
    bottom = f"{JOB}.side: bottom\n{LIST}.U1.side: bottom"
    (entry,) = unchecked(bottom, "rotation-convention-missing")
    assert "taken as seen through the top" in entry.cause
    assert unchecked(f"{bottom}\n{LIST}.bottom_positions: as-placed",
                     "rotation-convention-missing") == []  # fmt: skip


def test_a_flag_that_fell_is_recorded_on_purpose_only_where_nothing_names_pin_1() -> None:
    good = starter()
    fallen = "outlines.sod-123.polarised: false\n"
    bare = "".join(
        f"{at}: ~\n"
        for at in (
            *("outlines.sod-123.pin1_means", "outlines.sod-123.pin1_at_zero"),
            *("feeders.f03.tape.pin1",),
        )
    )
    for edits, is_loss in ((fallen, False), (fallen + bare, True)):
        (finding,) = [f for f in linted(edited(edits, good), good.shop).open if f.rule == FLAG]
        assert finding.is_loss is is_loss
        commands = [step.arguments[0] for step in finding.remedy if not isinstance(step, str)]
        assert commands == ["restore", "keep"][: 1 + is_loss]
