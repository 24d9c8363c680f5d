"""Edits by span, one by one: what changes, and that nothing else does."""

import pytest

from jobcheck.shop.paths import parse
from jobcheck.shop.values import MISSING
from jobcheck.sources.edits.edits import Edit, Edited, edit_shop
from jobcheck.sources.edits.replacing import EditRefused
from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.state.state import HeldFiles, State

SHOP = b"describes: shop\nedition: 1\nmachine: placer.yaml\n"
HEAD = "describes: machine\nedition: 1\n"


def read(placer: str | bytes, **more: bytes) -> Reading:
    data = placer if isinstance(placer, bytes) else (HEAD + placer).encode()
    return read_shop(State("now", HeldFiles({"shop.yaml": SHOP, "placer.yaml": data}), "shop"))


def edit(before: Reading, good: Reading | None = None, **values) -> Edited:
    """Edit paths, written with `__` for the dots."""
    edits = [Edit(tuple(path.split("__")), value) for path, value in values.items()]
    return edit_shop(before, edits, good)


def edited(before: str, good: str | None = None, **values) -> str:
    """Edit the machine's file; return it without its first two lines."""
    result = edit(read(before), read(good) if good is not None else None, **values)
    assert set(result.files) <= {"placer.yaml"}
    text = result.files.get("placer.yaml", (HEAD + before).encode()).decode()
    assert text.startswith(HEAD)
    return text.removeprefix(HEAD)


# one value


@pytest.mark.parametrize(
    ("before", "value", "after"),
    [
        ("a: {b: 1}\n", 2, "a: {b: 2}\n"),
        ("a:\n  b: 1  # one\n  c: 3\n", 2, "a:\n  b: 2  # one\n  c: 3\n"),
        ("a:\n  b:   1\t# tab\n", 2.5, "a:\n  b:   2.5\t# tab\n"),
        ("a:\n  b: 1", 2, "a:\n  b: 2"),
        ("a:\r\n  b: 1\r\n", 2, "a:\r\n  b: 2\r\n"),
        ("a:\r  b: 1\r", 2, "a:\r  b: 2\r"),
        ("a:\n  b: 'x'\n", "y", "a:\n  b: 'y'\n"),
        ("a:\n  b: 'x'\n", "it's", "a:\n  b: 'it''s'\n"),
        ('a:\n  b: "x"\n', 'a "b"', 'a:\n  b: "a \\"b\\""\n'),
        ('a:\n  b: "x"\n', 1, "a:\n  b: 1\n"),
        ("a:\n  b: x\n", "1", 'a:\n  b: "1"\n'),
        ("a:\n  b: x\n", "yes", 'a:\n  b: "yes"\n'),
        ("a:\n  b: x\n", "fff0:0002", 'a:\n  b: "fff0:0002"\n'),
        ("a:\n  b: x\n", "2026-10-02", "a:\n  b: 2026-10-02\n"),
        ("a:\n  b: x\n", "1_000", 'a:\n  b: "1_000"\n'),
        ("a:\n  b: x\n", "1e5", 'a:\n  b: "1e5"\n'),
        ("a:\n  b: x\n", "0x1f", 'a:\n  b: "0x1f"\n'),
        ("a:\n  b: x\n", "k-6f1c", "a:\n  b: k-6f1c\n"),
        ("a:\n  b: x\n", "", 'a:\n  b: ""\n'),
        ("a:\n  b: x\n", "a # b", 'a:\n  b: "a # b"\n'),
        ("a:\n  b: x\n", "two\nlines", 'a:\n  b: "two\\nlines"\n'),
        ("a:\n  b: x\n", "µ\u200b\u2028\ufeff", 'a:\n  b: "µ\u200b\\u2028\\ufeff"\n'),
        ("a:\n  b: x\n", True, "a:\n  b: true\n"),
        ("a:\n  b: true\n", 1, "a:\n  b: 1\n"),
        ("a:\n  b: 1\n", True, "a:\n  b: true\n"),
        ("a:\n  b: 1\n", 1e-7, "a:\n  b: 1e-07\n"),
        ("a:\n  b:\n", 2, "a:\n  b: 2\n"),
        ("a:\n  b:  # none\n", 2, "a:\n  b: 2  # none\n"),
        ("a:\n  b: &x\n", 2, "a:\n  b: &x 2\n"),
        ("a:\n  b: &x 1\n", 2, "a:\n  b: &x 2\n"),
        ("a:\n  b: !!int 1\n", 2, "a:\n  b: !!int 2\n"),
        ("a:\n  b: !!int 1\n", 2.5, "a:\n  b: 2.5\n"),
        ("a:\n  b: !!str &x 1\n", 2, "a:\n  b: &x 2\n"),
        ("a:\n  b: &x !!int 1\n", "x", "a:\n  b: &x x\n"),
        ("a:\n  b: !!str 1\n", "x", "a:\n  b: !!str x\n"),
        ("a: {b, c: 1}\n", 2, "a: {b: 2, c: 1}\n"),
        ("a: {b: , c: 1}\n", 2, "a: {b: 2, c: 1}\n"),
        ('{"a":{"b":1}}\n', 2, '{"a":{"b":2}}\n'),
        ("a:\n  b: |\n    some\n    text\n  c: 1\n", "x", "a:\n  b: x\n  c: 1\n"),
        ("a:\n  b: >-\n    some\n\n# c\n", "x", "a:\n  b: x\n\n# c\n"),
        ("a:\n  b: some\n    text\n  c: 1\n", "x", "a:\n  b: x\n  c: 1\n"),
        ("a:\n  b: 'some\n\n    text'\n  c: 1\n", "x", "a:\n  b: 'x'\n  c: 1\n"),
        ("a:\n  ? b\n  : 1\n", 2, "a:\n  ? b\n  : 2\n"),
        ("a:\n  'b' : 1\n", 2, "a:\n  'b' : 2\n"),
        ("a:\n  b: [1, 2]\n", [1, 3], "a:\n  b: [1, 3]\n"),
        ("a:\n  b: [1,  2]  # c\n", [1, 2, 3], "a:\n  b: [1, 2, 3]  # c\n"),
        ("a:\n  b:\n    - 1  # one\n    - 2\n", [1, 5], "a:\n  b:\n    - 1  # one\n    - 5\n"),
        ("a:\n  b:\n  - 1\n  - 2\n  c: 1\n", [7], "a:\n  b: [7]\n  c: 1\n"),
        ("a:\n  b:  # c\n    - 1\n", [], "a:\n  b: []  # c\n"),
        ("a:\n  b:\n    c: 1\n# d\nd: 1\n", 5, "a:\n  b: 5\n# d\nd: 1\n"),
        ("a:\n  b: 1  # c\n", {"c": 1}, "a:\n  b:\n    c: 1\n"),
        ("a: {b: 1}\n", {"c": [1, "x, y"]}, 'a: {b: {c: [1, "x, y"]}}\n'),
    ],
)
def test_a_value_is_replaced_by_its_span(before, value, after):
    if before.startswith("{"):
        before = before.replace("{", '{"describes":"machine","edition":1,', 1)
        after = after.replace("{", '{"describes":"machine","edition":1,', 1)
        result = edit(read(before.encode()), a__b=value)
        assert result.files["placer.yaml"].decode() == after
    else:
        assert edited(before, a__b=value) == after


def test_marks_and_odd_letters_before_an_edit_shift_nothing():
    mark = b"\xef\xbb\xbf"
    before = mark + (HEAD + "µ: Ω😀\na: {b: 1}\n").encode()
    after = mark + (HEAD + "µ: Ω😀\na: {b: 2}\n").encode()
    assert edit(read(before), a__b=2).files == {"placer.yaml": after}


@pytest.mark.parametrize(
    ("before", "asked"),
    [("a: 1\n", 1.0), ("a: 0x10\n", 16), ("a: 1e3\n", 1000), ("a: {b: 1}\n", {"b": 1.0})],
)
def test_another_spelling_of_the_same_value_is_no_edit(before, asked):
    result = edit(read(before), a=asked)
    assert (result.files, result.lines) == ({}, ())


@pytest.mark.parametrize(
    "spelled", ["4600", "4600.0", "0x11F8", "4.6e3", "+4600", "04600", "!!int 4600", "&a 4600"]
)
def test_restoring_copies_the_recorded_spelling(spelled):
    plain = spelled.rpartition(" ")[2]
    assert edited("a: 5000\n", f"a: {spelled}\n", a=4600) == f"a: {plain}\n"


@pytest.mark.parametrize("spelled", ["x", "'x'", '"x"', '"\\x78"'])
def test_restoring_copies_the_recorded_quotes(spelled):
    assert edited("a: y\n", f"a: {spelled}\n", a="x") == f"a: {spelled}\n"


def test_what_brackets_would_break_is_not_copied_into_them():
    assert edited("a: {b: y}\n", "a:\n  b: x, [1]\n", a__b="x, [1]") == 'a: {b: "x, [1]"}\n'


def test_a_recorded_list_is_copied_with_its_spaces():
    assert edited("a: [1]\n", "a: [ 1,2 ]\n", a=[1, 2]) == "a: [ 1,2 ]\n"
    assert edited("a: [1]\n", "a:\n  - 1\n  - 2\n", a=[1, 2]) == "a:\n  - 1\n  - 2\n"


# entries put in


def restored(before: str, good: str) -> str:
    """Put back all that a record has."""
    return edited(before, good, **machine(read(good)))


def machine(reading: Reading) -> dict:
    assert reading.shop is not None
    return {k: v for k, v in reading.shop.plain.items() if k not in ("shop", "jobs")}


GOOD = """\
# the machine
travel: {x: [0, 1]}

# the cameras
cameras:
  # looks down
  head:
    aim: down   # always
    controls:
      auto_exposure: 1                # 1 is manual
      # units of 100 us
      exposure_time_absolute: 100
      gain: 0x4

      white_balance_automatic: 0
  up: {aim: up, controls: {gain: 4}}   # on one line

vacuum: {pump_kpa: -60}
"""


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
@pytest.mark.parametrize("has_final_newline", [True, False])
@pytest.mark.parametrize(
    "lost",
    [
        "      gain: 0x4\n",
        "      auto_exposure: 1                # 1 is manual\n",
        "      # units of 100 us\n      exposure_time_absolute: 100\n",
        "      exposure_time_absolute: 100\n",
        "      exposure_time_absolute: 100\n      gain: 0x4\n",
        "\n      white_balance_automatic: 0\n",
        "    aim: down   # always\n",
        "    controls:\n" + "".join(GOOD.splitlines(keepends=True)[9:15]),
        "  # looks down\n  head:\n" + "".join(GOOD.splitlines(keepends=True)[7:15]),
        "  up: {aim: up, controls: {gain: 4}}   # on one line\n",
        "\n# the cameras\n" + "".join(GOOD.splitlines(keepends=True)[4:16]),
        "".join(GOOD.splitlines(keepends=True)[4:16]),
        "# the machine\ntravel: {x: [0, 1]}\n",
        "\nvacuum: {pump_kpa: -60}\n",
        "\n# the cameras\n" + "".join(GOOD.splitlines(keepends=True)[4:]),
        ", controls: {gain: 4}",
        "aim: up, ",
        "pump_kpa: -60",
    ],
)
def test_what_was_lost_is_put_back_as_it_stood(lost, newline, has_final_newline):
    assert GOOD.count(lost) == 1
    good, before = GOOD, GOOD.replace(lost, "")
    if not has_final_newline:
        good, before = good.removesuffix("\n"), before.removesuffix("\n")
    whole, part = ((HEAD + text).replace("\n", newline).encode() for text in (good, before))
    record = read(whole)
    assert edit(read(part), record, **machine(record)).files == {"placer.yaml": whole}


@pytest.mark.parametrize(
    ("before", "good", "after"),
    [
        # indented as the file is
        (
            "a:\n    b: 1\n",
            "a:\n  b: 1\n  # c\n  c:\n    d: 2\n",
            "a:\n    b: 1\n    # c\n    c:\n      d: 2\n",
        ),
        (
            "a:\n b: 1\n",
            "a:\n    b: 1\n    c: |\n        x\n\n        y\n",
            "a:\n b: 1\n c: |\n     x\n\n     y\n",
        ),
        # ended as the file is
        ("a: 1\r\nc: 3\r\n", "a: 1\nb: 2\nc: 3\n", "a: 1\r\nb: 2\r\nc: 3\r\n"),
        ("a: 1", "a: 1\n# b\nb: 2\n", "a: 1\n# b\nb: 2"),
        # after the nearest sibling that stands, wherever it stands
        ("d: 4\na: 1\n", "a: 1\nb: 2\nc: 3\nd: 4\n", "d: 4\na: 1\nb: 2\nc: 3\n"),
        ("c: 3\n", "a: 1\nb: 2\nc: 3\nd: 4\n", "a: 1\nb: 2\nc: 3\nd: 4\n"),
        ("# of c\nc: 3\n", "# of a\na: 1\n\n# of c\nc: 3\n", "# of a\na: 1\n# of c\nc: 3\n"),
        # below all that belongs to the sibling
        (
            "a:\n  b:\n    c: 1  # c\n  # of the next\n",
            "a:\n  b:\n    c: 1\nd: 4\n",
            "a:\n  b:\n    c: 1  # c\nd: 4\n  # of the next\n",
        ),
        ("a: |\n  x\n\nc: 3\n", "a: |\n  x\nb: 2\nc: 3\n", "a: |\n  x\nb: 2\n\nc: 3\n"),
        ("a: [1,\n  2] # c\nc: 3\n", "a: [1, 2]\nb: 2\n", "a: [1,\n  2] # c\nb: 2\nc: 3\n"),
        # into brackets, and out of them
        ("a: {b: 1}\n", "a:\n  b: 1\n  # of c\n  c: 0x2\n", "a: {b: 1, c: 0x2}\n"),
        ("a: { b: 1 }\n", "a: {c: 3, b: 1}\n", "a: { c: 3, b: 1 }\n"),
        ("a: {b: 1,}\n", "a: {b: 1, c: 3}\n", "a: {b: 1, c: 3,}\n"),
        ("a:\n  b: 1\n", "a: {b: 1, c: {d: [2]}}\n", "a:\n  b: 1\n  c: {d: [2]}\n"),
        ("x: {a: {}}\n", "x:\n  a:\n    b: 1\n", "x: {a: {b: 1}}\n"),
        # into an empty mapping, or none
        ("a: {}  # none\n", "a: {b: 1}\n", "a: {b: 1}  # none\n"),
        ("a: {}\nc: 1\n", "a:\n  # of b\n  b: 1\n", "a:\n  # of b\n  b: 1\nc: 1\n"),
        ("a:\nc: 1\n", "a:\n  b: 1\n", "a:\n  b: 1\nc: 1\n"),
        # what the record links is written out
        ("a: 1\n", "a: 1\nb: &x\n  c: 0x2\n", "a: 1\nb:\n  c: 0x2\n"),
        ("a: 1\n", "x: &x {c: 2}\na: 1\nb: *x\n", "x: {c: 2}\na: 1\nb: {c: 2}\n"),
    ],
)
def test_a_block_is_put_where_and_as_it_belongs(before, good, after):
    assert restored(before, good) == after


def test_entries_added_since_stay_where_they_are():
    before, good = "r:\n  z: 0\n  d: 4\n  y: 0\n", "r:\n  a: 1\n  b: 2\n  d: 4\n  e: 5\n"
    assert edited(before, good, r__e=5, r__a=1, r__b=2) == (
        "r:\n  z: 0\n  a: 1\n  b: 2\n  d: 4\n  e: 5\n  y: 0\n"
    )


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("a:\n  b: 1\n", "a:\n  b: 1\n  c:\n    d: 1\n    e: {f: [1, x]}\n"),
        ("a:\n    b: {g: 1}\n", "a:\n    b: {g: 1}\n    c: {d: 1, e: {f: [1, x]}}\n"),
        ("a:\n    b:\n        g: 1\n", None),
        ("a: {b: 1}\n", "a: {b: 1, c: {d: 1, e: {f: [1, x]}}}\n"),
        ("a: {}\n", "a:\n  c:\n    d: 1\n    e: {f: [1, x]}\n"),
        ('a: {"b": 1}\n', 'a: {"b": 1, "c": {"d": 1, "e": {"f": [1, x]}}}\n'),
    ],
)
def test_a_new_block_is_written_as_its_siblings_are(before, after):
    after = after or before + "    c:\n        d: 1\n        e: {f: [1, x]}\n"
    assert edited(before, a__c={"d": 1, "e": {"f": [1, "x"]}}) == after


def test_values_of_a_mapping_that_is_gone_bring_it_back_together():
    good = "x: 1\nrack:\n  # both\n  b: {c: 1, d: 2}\n"
    assert edited("x: 1\n", good, rack__b__c=1, rack__b__d=2) == good
    assert edited("x: 1\n", None, rack__b__c=1, rack__b__d=2) == good.replace("  # both\n", "")


def test_an_entry_in_brackets_is_told_of():
    good = read("a:\n  b: 1\n  # why\n  c: 2\n")
    assert edit(read("a: {b: 1}\n"), good, a__c=2).notes == (
        "a is written in brackets, so c is put inside them, without comments.",
    )


# entries taken out


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("a:\n  b: 1\n  c: 2\n", "a:\n  c: 2\n"),
        ("a:\n  x: 1\n  b: 1  # b\n\n  c: 2\n", "a:\n  x: 1\n\n  c: 2\n"),
        ("a:\n  x: 1\n  b:\n    - 1\n    # in b\n    - 2\n  # after\n", "a:\n  x: 1\n  # after\n"),
        ("a:\n  x: 1\n  b: 1", "a:\n  x: 1"),
        ("a:\r\n  x: 1\r\n  b: 1", "a:\r\n  x: 1"),
        ("a:\n  x: 1\n  # of b\n  b: 1\n", "a:\n  x: 1\n  # of b\n"),
        ("a:\n  # of b\n  b: 1\n", "a: {}\n  # of b\n"),
        ("a:  # of a\n  b: 1\nc: 1\n", "a: {}  # of a\nc: 1\n"),
        ("a: {b: 1}\n", "a: {}\n"),
        ("a: {b: 1, c: 2}\n", "a: {c: 2}\n"),
        ("a: {x: 0, b: 1, c: 2}\n", "a: {x: 0, c: 2}\n"),
        ("a: {x: 0, b: {d: 1}}\n", "a: {x: 0}\n"),
        ("a: {x: 0, b: 1,}\n", "a: {x: 0, }\n"),
        ("a: {\n  x: 0,  # x\n  b: 1,  # b\n  c: 2\n}\n", "a: {\n  x: 0,  # x\n  c: 2\n}\n"),
        ("a: {\n  x: 0,  # x\n  b: 1\n}\n", "a: {\n  x: 0,  # x\n}\n"),
        ("a:\n  x: 1\n  b: |\n    t\n\n  c: 2\n", "a:\n  x: 1\n\n  c: 2\n"),
        ("a:\n  x: 1\n  ? b\n  : 1\n  c: 2\n", "a:\n  x: 1\n  c: 2\n"),
    ],
)
def test_an_entry_goes_with_its_own_lines(before, after):
    assert edited(before, a__b=MISSING) == after


def test_several_entries_go_at_once():
    before = "a:\n  b: 1\n  c: 2\n  d: 3\n  e: {f: 1, g: 2, h: 3}"
    gone = dict.fromkeys(("a__b", "a__d", "a__e__g", "a__e__h"), MISSING)
    assert edited(before, None, **gone) == "a:\n  c: 2\n  e: {f: 1}"
    gone = dict.fromkeys(("a__d", "a__e"), MISSING)
    assert edited(before, None, **gone) == "a:\n  b: 1\n  c: 2"


def test_comments_go_with_a_block_that_was_added_since():
    good = "a:\n  x: {y: 1}\n  # of z\n  z: 1\n"
    before = "a:\n  x: {y: 1}\n\n  # new\n  # lens\n  b: {c: 1}\n  # of z\n  z: 1\n"
    assert edited(before, good, a__b=MISSING) == "a:\n  x: {y: 1}\n\n  # of z\n  z: 1\n"
    old = "a:\n  x: {y: 1}\n  # of z\n  b: {c: 1}\n  z: 1\n"
    assert edited(old, good, a__b=MISSING) == good


def test_one_entry_in_the_place_of_another():
    assert edited("a:\n  b: 1\nd: 1\n", a__b=MISSING, a__c=2) == "a:\n  c: 2\nd: 1\n"
    assert edited("a:\n  b: 1\n  x: 0\n", a__b=MISSING, a__c=2) == "a:\n  x: 0\n  c: 2\n"
    assert edited("a: {b: 1}\n", a__b=MISSING, a__c=2) == "a: {c: 2}\n"
    assert edited("z: {a: {b: 1}}\n", z__a__b=MISSING, z__a__c=2) == "z: {a: {c: 2}}\n"


# anchors, aliases, merges


def test_an_alias_gets_a_value_of_its_own():
    result = edit(read("a: &x 1\nb: *x\n"), b=2)
    assert result.files["placer.yaml"].decode() == HEAD + "a: &x 1\nb: 2\n"
    assert result.notes == ("b was an alias: it gets its own value.",)


def test_an_alias_follows_what_it_repeats():
    assert edited("a: &x 1\nb: *x\n", a=2, b=2) == "a: &x 2\nb: *x\n"
    assert edited("a: &x {c: 1}\nb: *x\n", a__c=2, b__c=2) == "a: &x {c: 2}\nb: *x\n"
    assert edited("a: &x {c: 1}\nb: *x\n", a__d=2, b__d=2) == "a: &x {c: 1, d: 2}\nb: *x\n"


@pytest.mark.parametrize(
    ("before", "asked", "value"),
    [
        ("a: &x 1\nb: *x\n", "a", 2),
        ("a: &x {c: 1}\nb: *x\n", "a__c", 2),
        ("b: &x {c: 1}\na: *x\n", "a__c", 2),
        ("b: &x {c: 1}\na: *x\n", "a__d", 2),
        ("b: &x {c: 1, d: 2}\na: *x\n", "a__d", MISSING),
        ("b: &x {c: {d: 1}}\na: {<<: *x}\n", "a__c__d", 2),
    ],
)
def test_a_shared_value_is_not_changed_for_others(before, asked, value):
    with pytest.raises(EditRefused) as refused:
        edit(read(before), **{asked: value})
    assert "it shares its value with b" in str(refused.value)
    assert "through an alias" in str(refused.value)


def test_an_anchor_that_is_used_is_not_taken_out():
    with pytest.raises(EditRefused, match=r"placer.yaml could not be read afterwards: \*x repeats"):
        edit(read("a: &x 1\nb: *x\n"), a=MISSING)


def test_a_merged_value_is_overridden_where_it_is_used():
    before = "a: &x\n  c: 1\nb:\n  <<: *x\n"
    assert edited(before, b__c=2) == before + "  c: 2\n"
    assert edited("a: &x {c: 1}\nb: {<<: *x}\n", b__c=2) == "a: &x {c: 1}\nb: {<<: *x, c: 2}\n"
    with pytest.raises(EditRefused, match=r"b.c cannot be written: b.c is merged from another"):
        edit(read(before), b__c=MISSING)


# previews


def test_a_preview_shows_line_old_and_new():
    before = read("a:\n  b: 1  # c\n  c: [1, 2]\n  x: {}\n  y: 1\n")
    good = read("a:\n  b: 1\n  # of d\n  d: 0x2\n")
    result = edit(before, good, a__b=3, a__c=[1, 4], a__d=2, a__y=MISSING)
    assert [(line.line, line.before, line.after) for line in result.lines] == [
        (4, "b: 1", "b: 3"),
        (4, "", "# of d\nd: 0x2"),
        (5, "c[1]: 2", "c[1]: 4"),
        (7, "y: 1", ""),
    ]
    assert [line.path for line in result.lines][1:3] == [("a", "d"), ("a", "c", "1")]
    assert {line.file for line in result.lines} == {"placer.yaml"}


# refusals


def test_files_that_are_not_understood_are_not_edited():
    with pytest.raises(EditRefused, match=r"a cannot be written"):
        edit(read("a: [\n"), a=1)
    broken = read_shop(State("now", HeldFiles({"shop.yaml": b"a: ["}), "shop"))
    with pytest.raises(EditRefused, match=r"shop.yaml is unreadable now"):
        edit(broken, a=1)


def test_an_entry_that_shares_its_line_is_refused():
    with pytest.raises(EditRefused, match=r"it shares its line with something else"):
        edit_shop(read("a:\n  - b: 1\n    c: 2\n"), [Edit(parse("a.0.b"), MISSING)])


def test_the_result_is_the_shop_as_it_will_be():
    result = edit(read("travel: {x: [0, 1]}\n"), travel__x=[0, 2])
    assert result.reading.places.held["placer.yaml"].data == result.files["placer.yaml"]
    assert result.reading.shop is not None
    assert result.reading.shop.plain["travel"] == {"x": [0, 2]}
