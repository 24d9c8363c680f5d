"""Rules about feeders, carriers and stock."""

from jobcheck.rules.base import Rule
from jobcheck.rules.feeders import carriers, picks, pockets, slots, stock, trays

RULES: tuple[Rule, ...] = (
    slots.feeder_slot_wrong,
    slots.feed_direction_contradicts_row,
    slots.part_without_feeder,
    slots.feeder_incomplete,
    picks.feeder_pick_off_slot,
    picks.pick_off_pocket,
    picks.pick_height_doubtful,
    carriers.tape_sizes_contradict,
    carriers.carrier_contradicted,
    carriers.feeders_of_part_disagree,
    pockets.part_misfits_carrier,
    pockets.height_contradicts_pocket,
    pockets.attitude_contradicts_tape,
    trays.feeder_count_wrong,
    trays.feeder_outside_travel,
    trays.carrier_overlaps,
    stock.stock_short,
)
