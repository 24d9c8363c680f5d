"""Rules about feeders, carriers and stock."""

from jobcheck.rules.base import Rule
from jobcheck.rules.feeders import carriers, picks, pockets, slots, stock, trays

RULES: tuple[Rule, ...] = (
    slots.feeder_slot_shared,
    slots.feeder_covers_neighbour,
    slots.feeder_slot_outside_row,
    slots.feed_direction_contradicts_row,
    slots.part_without_feeder,
    slots.feeder_place_missing,
    picks.feeder_pick_off_slot,
    picks.feeder_pick_outside_travel,
    picks.pick_height_copied,
    picks.pick_off_pocket,
    picks.pick_height_unusual,
    carriers.tape_advance_contradicts_pitch,
    carriers.tape_unusual,
    carriers.carrier_undescribed,
    carriers.carrier_contradicted,
    carriers.feeders_of_part_disagree,
    pockets.part_exceeds_carrier,
    pockets.height_contradicts_pocket,
    pockets.attitude_contradicts_tape,
    pockets.part_loose_in_pocket,
    pockets.pocket_contradicts_tape,
    trays.tray_count_contradicts_pockets,
    trays.carrier_exceeds_travel,
    trays.stick_count_implausible,
    trays.carrier_overlaps,
    stock.stock_short,
    stock.stock_rose,
)
