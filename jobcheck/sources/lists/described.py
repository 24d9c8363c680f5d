"""The list that a job describes: read by its kind, its rows named by the shop's parts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from jobcheck.findings import fault
from jobcheck.schema.job import Bill, Placements
from jobcheck.schema.parts import Outline, Part
from jobcheck.shop.places import Place
from jobcheck.sources.lists.bill import read_bill
from jobcheck.sources.lists.options import ListOptions
from jobcheck.sources.lists.placement_list import read_placement_list
from jobcheck.sources.lists.reading import List
from jobcheck.text import NotUnderstood


def read_list(data: bytes, name: str, block: str, options: ListOptions) -> List:
    """Read the list of a job's block, `placements` or `bill`.

    Raises:
        NotUnderstood: with the first fault of the list.
    """
    if block == "bill":
        read = read_bill(data, name, options)
    elif options.is_gerber(name):
        from jobcheck.sources.lists.gerber import read_component_layer

        read = read_component_layer(data, name, options)
    else:
        read = read_placement_list(data, name, options)
    keys = (Placements if block == "placements" else Bill).model_fields
    for reference in keys & read.rows.keys():
        place = read.cells.place(reference) or Place(name)
        says = f"{reference} cannot be a reference: it is a key of the list."
        raise NotUnderstood(fault(place, "list-malformed", says, "Rename it."))
    return read


def rows_of(
    read: List, parts: Mapping[str, Part], outlines: Mapping[str, Outline]
) -> dict[str, dict[str, Any]]:
    """Return the plain rows of a list, its parts named as the shop names them."""
    if not any(read.named.values()):
        return read.rows
    from jobcheck.sources.lists.matching import PartCatalogue, with_parts

    return with_parts(read, PartCatalogue(parts, outlines))
