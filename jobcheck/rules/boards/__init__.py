"""Rules about lists, placements, boards and panels."""

from jobcheck.rules.base import Rule
from jobcheck.rules.boards import bodies, drafts, edges, lists, neighbours, panels, placements

RULES: tuple[Rule, ...] = (
    drafts.job_incomplete,
    lists.reference_repeated,
    lists.placement_without_part,
    lists.list_rows_lost,
    lists.placements_not_built,
    lists.bill_contradicts_placements,
    placements.placement_outside_board,
    placements.list_frame_wrong,
    placements.rotation_doubtful,
    bodies.bodies_too_close,
    bodies.body_over_hole_or_fiducial,
    edges.body_beyond_edge,
    neighbours.nozzle_strikes_neighbour,
    neighbours.placement_strikes_obstacle,
    panels.panel_cells_do_not_fit,
    panels.cells_skipped,
    panels.board_thickness_doubtful,
    panels.underside_strikes_support,
)
