"""`checked`: a look counts while what was looked at stays, and nothing is written unasked."""

import io
from pathlib import Path as FilePath

import pytest

from jobcheck.cli.main import main
from jobcheck.facts.facts import Facts
from jobcheck.facts.polarity import Proof
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import folder_state

JOB = "jobs/soil-logger/job.yaml"
LIST = "jobs/soil-logger/placements.csv"


def call(*words: str) -> tuple[int, str]:
    out, err = io.StringIO(), io.StringIO()
    code = main((*words, "--as-of", "2026-11-25"), out, err)
    return code, " ".join((out.getvalue() + err.getvalue()).split())


def listing(root: FilePath, reference: str) -> Proof:
    shop = read_shop(folder_state(root)).shop
    assert shop is not None
    return Facts(shop).polarity.listing("soil-logger", reference).proof


def edit(root: FilePath, name: str, old: str, new: str) -> None:
    text = (root / name).read_text()
    assert text.count(old) == 1, (old, text.count(old))
    (root / name).write_text(text.replace(old, new))


def test_without_write_nothing_is_written(root: FilePath) -> None:
    before = (root / JOB).read_bytes()
    code, said = call("checked", "soil-logger", "D1", "U1")
    assert code == 0
    assert "Nothing has been written." in said
    assert said.endswith("To write it jobcheck checked soil-logger D1 U1 --write")
    assert (root / JOB).read_bytes() == before


def test_a_look_proves_the_listing_of_what_was_looked_at(root: FilePath) -> None:
    assert listing(root, "D1") is Proof.UNKNOWN
    assert call("checked", "soil-logger", "D1", "--write")[0] == 0
    assert call("checked", "soil-logger", "U1", "--write")[0] == 0
    assert listing(root, "D1") is listing(root, "U1") is Proof.PROVEN
    assert listing(root, "D2") is Proof.UNKNOWN
    assert "Polarity: proven" in call("where", "D1")[1]


def test_a_changed_angle_voids_it_and_the_angle_back_counts_again(root: FilePath) -> None:
    call("checked", "soil-logger", "D1", "--write")
    edit(root, LIST, "D1,diode-fast-sod123,4.20,22.60,90", "D1,diode-fast-sod123,4.20,22.60,270")
    assert listing(root, "D1") is Proof.UNKNOWN
    edit(root, LIST, "D1,diode-fast-sod123,4.20,22.60,270", "D1,diode-fast-sod123,4.20,22.60,450")
    assert listing(root, "D1") is Proof.PROVEN


def test_a_second_time_there_is_nothing_to_write(root: FilePath) -> None:
    call("checked", "soil-logger", "D1", "--write")
    before = (root / JOB).read_bytes()
    assert "nothing to write" in call("checked", "soil-logger", "D1", "--write")[1]
    assert (root / JOB).read_bytes() == before


def test_a_day_alone_gives_way_and_it_says_so(root: FilePath) -> None:
    edit(root, JOB, "bottom: as-placed}", "bottom: as-placed, pin1_checked: 2026-10-02}")
    assert listing(root, "D1") is Proof.DECLARED
    code, said = call("checked", "soil-logger", "D1", "--write")
    assert code == 0
    assert "a day alone declared the whole list" in said
    assert (listing(root, "D1"), listing(root, "D2")) == (Proof.PROVEN, Proof.UNKNOWN)


def test_what_contradicts_is_named(root: FilePath) -> None:
    edit(
        root,
        "parts.yaml",
        "pad1_means: plus\n    pad1_at_zero: left",
        "pad1_means: plus\n    pad1_at_zero: right",
    )
    assert "The pads of C30 contradict the list" in call("checked", "soil-logger", "C30")[1]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("soil-loger", "D1"), "Job soil-loger does not exist. Jobs: soil-logger."),
        (("soil-logger", "D11"), "soil-logger has no placement D11. Near: D1."),
        (("soil-logger", "C1"), "C1 is not polarised"),
        (("soil-logger",), "Missing argument"),
    ],
)
def test_what_is_refused(root: FilePath, words: tuple[str, ...], says: str) -> None:
    before = (root / JOB).read_bytes()
    code, said = call("checked", *words, "--write")
    assert code == 2
    assert says in said
    assert (root / JOB).read_bytes() == before
