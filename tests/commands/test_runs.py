"""Trials, proofs, preflight and bookings on the example."""

from __future__ import annotations

import copy
import json
import random
from datetime import date
from itertools import combinations
from typing import Any

import pytest

from jobcheck.commands.keep import keep
from jobcheck.commands.preflight import preflight
from jobcheck.commands.proof import prove
from jobcheck.commands.trial import add_trial
from jobcheck.commands.used import use
from jobcheck.facts.facts import Facts
from jobcheck.facts.polarity import Proof
from jobcheck.facts.proof import Standing
from jobcheck.findings import CallRefused
from jobcheck.reports.calls import Call
from jobcheck.reports.text.runs import preflight_data, preflight_text, proof_data, proof_text
from jobcheck.shop.paths import look_up
from jobcheck.sources.shop_reader import read_shop, understood
from jobcheck.sources.state.state import folder_state
from tests.fields.plant import Class, cases, edits
from tests.golden.play import EXAMPLES
from tests.support.edited import files_of

JOB = "soil-logger"
DAY = date(2026, 11, 25)


def _tried(root, kind="paste", day=DAY, **wrong):
    """Add a trial in which all went well but `wrong`."""
    return add_trial(root, JOB, kind, day, ask=lambda ref, _: {"result": wrong.get(ref, "ok")})


def _seen(root, day=DAY):
    """Write the day on which the cameras were seen."""
    machine = root / "placer.yaml"
    text = machine.read_text()
    assert text.count("seen: ") >= 0
    lines = []
    for line in text.splitlines():
        if not line.strip().startswith("seen:"):
            lines.append(line)
        if line.strip().startswith("aim:"):
            lines.append(f"{line[: len(line) - len(line.lstrip())]}seen: {day}")
    machine.write_text("\n".join(lines) + "\n")


def _put(root, file, old, new):
    text = (root / file).read_text()
    assert text.count(old) >= 1
    (root / file).write_text(text.replace(old, new, 1))


def _call(root):
    return Call("jobcheck", None, root, root)


def test_a_good_trial_proves_every_part_and_listing(root):
    assert not prove(root, JOB)[0].is_whole
    _tried(root)
    assert prove(root, JOB)[0].is_whole


def test_a_look_in_a_trial_proves_the_listing_until_it_turns(root):
    _tried(root, "tape")
    legs = Facts(understood(read_shop(folder_state(root)))).polarity
    assert legs.listing(JOB, "D1").proof is Proof.PROVEN
    lines = (root / "jobs/soil-logger/placements.csv").read_text().splitlines(keepends=True)
    at = next(i for i, line in enumerate(lines) if line.startswith("D1,"))
    cells = lines[at].split(",")
    header = next(line for line in lines if "rotation" in line.lower()).lower().split(",")
    turn = next(i for i, name in enumerate(header) if "rot" in name)
    cells[turn] = str((float(cells[turn]) + 180) % 360)
    lines[at] = ",".join(cells)
    (root / "jobs/soil-logger/placements.csv").write_text("".join(lines))
    legs = Facts(understood(read_shop(folder_state(root)))).polarity
    assert legs.listing(JOB, "D1").proof is not Proof.PROVEN


def test_reversed_in_a_trial_contradicts_the_listing(root):
    _tried(root, "tape", D1="reversed")
    legs = Facts(understood(read_shop(folder_state(root)))).polarity
    assert legs.listing(JOB, "D1").proof is Proof.CONTRADICTED
    found = preflight(root, JOB, "tape", None, DAY)
    assert any("D1" in reason.text and "contradicted" in reason.text for reason in found.reasons)


def test_the_newest_result_under_the_same_description_decides(root):
    _tried(root, "tape", date(2026, 11, 20))
    _tried(root, "tape", DAY, D1="missed", D2="missed", D3="missed", D4="missed", D5="missed")
    failed = prove(root, JOB)[0].proofs.of(Standing.FAILED)
    assert "missed" in {one.result for one in failed}


def test_a_lost_proof_names_the_change(root):
    _tried(root)
    _put(root, "parts.yaml", "height_mm: 5.4", "height_mm: 5.6")
    lost = prove(root, JOB)[0].lost
    assert [one.proof.part for one in lost] == ["cap-220u-6x5"]
    assert lost[0].values == (("height_mm", 5.4, 5.6),)
    assert prove(root, JOB)[0].proofs.rehearsal == ("C30",)


def test_a_lost_proof_is_compared_with_the_trial_that_went_well(root):
    _tried(root, "tape", date(2026, 11, 20))
    _put(root, "parts.yaml", "height_mm: 5.4", "height_mm: 5.5")
    _tried(root, "tape", DAY, C30="missed")
    _put(root, "parts.yaml", "height_mm: 5.5", "height_mm: 5.6")
    assert prove(root, JOB)[0].lost[0].values == (("height_mm", 5.4, 5.6),)


def test_tape_does_not_prove_height_and_release(root):
    _tried(root, "tape")
    _seen(root)
    assert preflight(root, JOB, "tape", None, DAY).is_go
    paste = preflight(root, JOB, "paste", None, DAY)
    assert any("proven on tape only" in reason.text for reason in paste.reasons)


def test_no_go_becomes_go(root):
    found = preflight(root, JOB, "paste", None, DAY)
    assert not found.is_go
    text = preflight_text(found, _call(root))
    assert text[0] == "NO GO for paste"
    assert any("not seen today" in line for line in text)
    _tried(root)
    _seen(root)
    found = preflight(root, JOB, "paste", None, DAY)
    assert found.reasons == ()
    assert preflight_text(found, _call(root))[0].startswith("GO for paste")
    assert json.loads(json.dumps(preflight_data(found, _call(root))))["go"] is True


def test_a_camera_seen_yesterday_does_not_count(root):
    _tried(root)
    _seen(root, date(2026, 11, 24))
    found = preflight(root, JOB, "paste", None, DAY)
    assert [r.text for r in found.reasons if r.text.startswith("Camera")] == [
        "Camera head was not seen today, last on 2026-11-24",
        "Camera up was not seen today, last on 2026-11-24",
    ]


def test_accepting_does_not_make_an_unknown_polarity_a_go(root):
    _seen(root)
    _put(
        root,
        "shop.yaml",
        "describes: shop",
        "describes: shop\naccepted: {pick-rotation-wrong: {feeders: {because: known, until: "
        "2027-03-01}}}\n",
    ) if "accepted" not in (root / "shop.yaml").read_text() else None
    found = preflight(root, JOB, "paste", None, DAY)
    assert any(reason.text.startswith("Polarity of") for reason in found.reasons)


def test_more_panels_bring_the_end_of_reels_nearer(root):
    few = preflight(root, JOB, "paste", 1, DAY)
    many = preflight(root, JOB, "paste", 5000, DAY)
    assert not [one for one in few.supplies if one.stops_in]
    assert [one for one in many.supplies if one.stops_in]
    assert not any("remaining" in reason.text for reason in many.reasons)


@pytest.mark.parametrize("seed", range(20))
def test_the_rehearsal_is_as_short_as_by_trying_all(root, seed):
    drawn = random.Random(seed)
    shop = understood(read_shop(folder_state(root)))
    placed = sorted(reference for reference, _ in shop.placed(JOB))
    kept = drawn.sample(placed, 9)
    rows = (root / "jobs/soil-logger/placements.csv").read_text().splitlines(keepends=True)
    wanted = [r for r in rows if r.split(",")[0] in kept or r.split(",")[0] not in placed]
    (root / "jobs/soil-logger/placements.csv").write_text("".join(wanted))
    facts = Facts(understood(read_shop(folder_state(root))))
    polarised = {ref for ref, _ in facts.polarity.polarised(JOB)}
    parts = {ref: placement.part for ref, placement in facts.shop.placed(JOB)}
    for size in range(len(parts) + 1):
        if any(
            polarised <= {*chosen} and {parts[ref] for ref in chosen} == set(parts.values())
            for chosen in combinations(parts, size)
        ):
            break
    assert len(prove(root, JOB)[0].proofs.rehearsal) == size


def test_a_trial_from_csv(root, tmp_path):
    seen = tmp_path / "seen.csv"
    seen.write_text("reference,result,x_mm,y_mm\nD1,ok,,\nC30,shifted,0.12,-0.03\n")
    added = add_trial(root, JOB, "tape", DAY, seen=seen)
    assert added.results == {"ok": 1, "shifted": 1}
    trial = understood(read_shop(folder_state(root))).trials["2026-11-25-soil-logger-tape"]
    assert trial.placements["C30"].x_mm == 0.12


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("reference,result\nD99,ok\n", "seen.csv:2: soil-logger places no D99"),
        ("reference,result\nD1,fine\n", "seen.csv:2: result is fine"),
        ("reference,result\nD1,ok\nD1,ok\n", "seen.csv:3: D1 is there twice"),
        ("reference,result,x_mm\nD1,ok,wide\n", "seen.csv:2: x_mm is wide"),
        ("reference,outcome\nD1,ok\n", "column outcome is unknown"),
        ("reference\nD1\n", "it needs reference and result"),
        ("reference,result\nD1,ok,1,2\n", "seen.csv:2: the row has more cells"),
    ],
)
def test_a_wrong_csv_is_one_clear_error(root, tmp_path, text, says):
    (tmp_path / "seen.csv").write_text(text)
    with pytest.raises(CallRefused) as refused:
        add_trial(root, JOB, "tape", DAY, seen=tmp_path / "seen.csv")
    assert says in str(refused.value)
    assert not (root / "trials").exists()


def test_two_trials_of_one_day_are_two_files(root):
    first, second = _tried(root), _tried(root, D1="missed")
    assert first.file != second.file
    assert (root / first.file).exists()
    assert _tried(root).file == first.file  # the same once more: an interrupted call is completed


def test_a_broken_trial_is_a_finding_at_its_place(root):
    file = root / _tried(root).file
    file.write_text(file.read_text().replace("    result: ok", "    result: fine", 1))
    reading = read_shop(folder_state(root))
    assert [fault.place.file for fault in reading.faults] == [
        "trials/2026-11-25-soil-logger-paste.yaml"
    ]
    assert reading.shop is not None


def test_records_name_trials_and_do_not_copy_them(root):
    file = _tried(root).file
    _put(root, "parts.yaml", "height_mm: 5.4", "height_mm: 5.5")
    kept = keep(root, "with a trial", DAY, note=None, on_purpose=())
    assert kept.record is not None
    assert kept.record.about.evidence[0].startswith(f"{file} ")
    assert file not in kept.record.about.sums
    assert len(kept.record.about.evidence[0].split()[1]) == 64


def test_bookings_count_once_and_complete_after_a_stop(root):
    before = understood(read_shop(folder_state(root))).feeders["f12"].remaining
    done = use(root, JOB, 2, "first", {"f12": 3}, DAY, write=True)
    taken = done.booking.feeders["f12"]
    assert taken.before == before
    now = understood(read_shop(folder_state(root))).feeders["f12"].remaining
    assert now == taken.after
    assert taken.after < taken.before
    again = use(root, JOB, 2, "first", {"f12": 3}, DAY, write=True)
    assert again.is_booked
    assert understood(read_shop(folder_state(root))).feeders["f12"].remaining == now
    # stopped after the booking was written: the counts are as before, repeating completes them
    _put(root, "feeders.yaml", f"remaining: {now}", f"remaining: {before}")
    finished = use(root, JOB, 2, "first", {"f12": 3}, DAY, write=True)
    assert not finished.is_booked
    assert understood(read_shop(folder_state(root))).feeders["f12"].remaining == now


def test_a_correction_is_a_booking_of_its_own(root):
    before = understood(read_shop(folder_state(root))).feeders["f12"].remaining or 0
    use(root, JOB, 1, "first", {}, DAY, write=True)
    with pytest.raises(CallRefused, match="other figures"):
        use(root, JOB, 2, "first", {}, DAY, write=True)
    booked = understood(read_shop(folder_state(root))).feeders["f12"].remaining or 0
    use(root, JOB, 0, "first-correction", {"f12": booked - before}, DAY, write=True)
    assert understood(read_shop(folder_state(root))).feeders["f12"].remaining == before


def test_a_damaged_booking_is_never_taken_for_absent(root):
    use(root, JOB, 1, "first", {}, DAY, write=True)
    (root / "runs/first.yaml").write_text("describes: run\n")
    with pytest.raises(CallRefused, match="damaged"):
        use(root, JOB, 1, "first", {}, DAY, write=True)


CERTAIN = [case for case in cases() if case.expected is Class.ERROR]


@pytest.mark.parametrize(
    "case",
    [
        case if at % 6 == 0 else pytest.param(case, marks=pytest.mark.long)
        for at, case in enumerate(CERTAIN)
    ],
    ids=str,
)
def test_no_certain_fault_is_a_go(case, tmp_path):
    """Every field of the catalogue whose fault must be an error; even for tape it is no go."""
    clean = understood(read_shop(folder_state(EXAMPLES / JOB))).plain
    plain = copy.deepcopy(clean)
    for camera in plain["cameras"].values():
        camera["seen"] = DAY.isoformat()
    _write(tmp_path / "clean", plain)
    if case is CERTAIN[0]:
        assert preflight(tmp_path / "clean", JOB, "tape", None, DAY).is_go
    for path, value in edits(clean, case.path, case.edit).items():
        holder: Any = look_up(plain, path[:-1])
        holder.pop(path[-1]) if value is None else holder.update({path[-1]: value})
    _write(tmp_path / "spoiled", plain)
    try:
        found = preflight(tmp_path / "spoiled", JOB, "tape", None, DAY)
    except CallRefused:
        return
    assert not found.is_go


def _write(folder, plain):
    for name, data in files_of(plain, indent=None).items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)


def test_reports_are_at_most_80_columns(root):
    _tried(root, "tape", D1="reversed", C30="missed")
    _put(root, "parts.yaml", "height_mm: 5.4", "height_mm: 5.6")
    jobs = prove(root, None)
    lines = proof_text(jobs, _call(root)) + preflight_text(
        preflight(root, JOB, "paste", None, DAY), _call(root)
    )
    assert [line for line in lines if len(line) > 80] == []
    assert json.dumps(proof_data(jobs))
