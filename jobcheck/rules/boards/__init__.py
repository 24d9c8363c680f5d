"""Rules about lists, placements, boards and panels."""

from jobcheck.rules.base import Rule
from jobcheck.rules.boards import bodies, edges, lists, neighbours, panels, placements

RULES: tuple[Rule, ...] = (
    lists.reference_repeated,
    lists.placement_without_part,
    lists.list_rows_lost,
    lists.list_rotations_changed,
    lists.side_without_placements,
    lists.placement_built_by_no_job,
    lists.bill_item_not_placed,
    lists.placement_not_in_bill,
    lists.bill_contradicts_placements,
    placements.placement_outside_board,
    placements.list_frame_wrong,
    placements.rotation_unusual,
    bodies.bodies_overlap,
    bodies.bodies_too_close,
    bodies.body_over_hole,
    bodies.body_over_fiducial,
    edges.body_beyond_edge,
    edges.overhang_over_panel,
    neighbours.nozzle_strikes_neighbour,
    neighbours.placement_strikes_obstacle,
    panels.panel_cells_overlap,
    panels.panel_cells_outside,
    panels.cells_skipped,
    panels.board_thickness_implausible,
    panels.seat_height_contradicts_thickness,
    panels.underside_strikes_support,
)
