"""Lists are data: no damaged or hostile one takes long, or ends in anything but a fault."""

import time
from random import Random

import pytest

from jobcheck.sources.lists.bill import read_bill
from jobcheck.sources.lists.gerber import read_component_layer
from jobcheck.sources.lists.options import ListOptions
from jobcheck.sources.lists.placement_list import read_placement_list
from jobcheck.text import NotUnderstood
from tests.lists.golden import all_cases
from tests.lists.test_gerber import R301, layer
from tests.support.mutate import mutate
from tests.support.remedies import in_words

MM = ListOptions(units="mm")
HEAD = b"ref,part,x,y,rot,side\n"
MANY = 200_000
BOUND_S = 5.0
"""Hundreds of times what each takes; what is quadratic takes minutes."""


def read(reader, data, options=MM):
    try:
        reader(data, "list", options)
    except NotUnderstood as error:
        fault = error.fault
    else:
        return
    assert fault.message
    assert in_words(fault.remedy)


@pytest.mark.parametrize("case", all_cases()[::4], ids=lambda case: case.name)
def test_damaged_lists(case):
    data, options = case.file.read_bytes(), ListOptions(units="mm")
    for number in range(40):
        damaged = mutate({"list": data}, Random(number)).get("list", b"")
        for reader in (read_placement_list, read_bill):
            read(reader, damaged, options)


def test_damaged_layers():
    data = layer(R301)
    for number in range(600):
        read(read_component_layer, mutate({"list": data}, Random(number)).get("list", b""))


@pytest.mark.parametrize(
    "data",
    [
        b"G" * MANY,
        b"%" + b"G" * MANY,
        b"%" * MANY,
        b"%TO.C," + b'"' * MANY + b"*%",
        b"%TO.C," + b" " * MANY + b"*%",
        layer("D11*" * MANY),
        layer("X" + "9" * 6000 + "Y0D03*"),
        layer(r"D10*%TO.C,\UFFFFFFFF*%%TO.CRot,0*%X0Y0D03*"),
        layer(r"D10*%TO.C,\uD800*%%TO.CRot," + "9" * 6000 + "*%X0Y0D03*"),
    ],
    ids=range(9),
)
def test_hostile_layers(data):
    begin = time.process_time()
    read(read_component_layer, data)
    assert time.process_time() - begin < BOUND_S


@pytest.mark.parametrize(
    "data",
    [
        HEAD + b"R1,a" + b" " * MANY + b",1,2,0,top\n",
        HEAD + b"R1,a" + b"(" * MANY + b",1,2,0,top\n",
        HEAD + b"R" + b"." * MANY + b",a,1,2,0,top\n",
        HEAD + b"R1,a," + b"1" * MANY + b",2,0,top\n",
        HEAD + b"," * MANY,
        HEAD + b'"' * MANY,
        HEAD + b"\n" * (MANY // 4),
        HEAD + b"#\n" * (MANY // 4),
        HEAD + b"R1,a\n" * 20_000,
        b"(" * MANY + b",x,y\nR1,1,2\n",
        b"ref" + b" x" * MANY,
        b"Ref X Y Rot Side\n" + b"R1 1 2 0 top\n" * 20_000,
        b"Ref X Y Rot Side\n" + b"R1 1 2 0\n" * 20_000,
        b"side: " * 30_000 + b"\nref,x,y\nR1,1,2\n",
        b"side" + b" " * MANY + b"\nref,x,y\nR1,1,2\n",
        b"units" * 30_000 + b"\nref,x,y\nR1,1,2\n",
        b"ref,part\nR1" + b"." * MANY + b",a\n",
        b"ref,part\n" + b"R1-R9999," * 20_000 + b"a\n",
        b'ref,part\n"' + b"R1-R9999," * 300 + b'",a\n',
    ],
    ids=range(19),
)
def test_hostile_lists(data):
    begin = time.process_time()
    for reader in (read_placement_list, read_bill):
        read(reader, data)
    assert time.process_time() - begin < BOUND_S
