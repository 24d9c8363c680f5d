"""Every picture that `jobcheck picture` draws, as a page or as SVG."""

from __future__ import annotations

from typing import NamedTuple

from jobcheck.commands.picture import (
    BoardPicture,
    CamerasPicture,
    ChangePicture,
    MachinePicture,
    PartPicture,
)
from jobcheck.reports.calls import Call
from jobcheck.reports.pages.board import board_figures, board_remarks, board_words
from jobcheck.reports.pages.cameras import camera_figures, camera_words
from jobcheck.reports.pages.change import change_figures, change_remarks, change_words
from jobcheck.reports.pages.lying import part_figures, part_words
from jobcheck.reports.pages.machine import machine_figures
from jobcheck.reports.pages.page import Figure, Remark, html_page, svg_picture


class Drawn(NamedTuple):
    """Figures with their title, the words above them and the findings below."""

    title: str
    figures: list[Figure]
    words: list[str]
    remarks: tuple[Remark, ...] = ()
    is_row: bool = False

    def html(self) -> str:
        """Return one self-contained page."""
        return html_page(
            self.title, self.figures, words=self.words, remarks=self.remarks, is_row=self.is_row
        )

    def svg(self) -> str:
        """Return the figures alone, as one picture."""
        return svg_picture(self.title, self.figures, words=self.words, is_row=self.is_row)


def board(picture: BoardPicture, call: Call) -> Drawn:
    """Draw a board with its findings."""
    figures, words = board_figures(picture), board_words(picture)
    remarks = tuple(board_remarks(picture, call))
    return Drawn(f"{picture.job} of {picture.shop.name}: the board", figures, words, remarks)


def cameras(picture: CamerasPicture) -> Drawn:
    """Draw the card of each camera."""
    title = f"Cameras of {picture.shop.name}: described, recorded, seen"
    return Drawn(title, camera_figures(picture), camera_words(picture))


def part(picture: PartPicture) -> Drawn:
    """Draw one part from its pocket to its pad."""
    chain = picture.chain
    title = f"{chain.reference} of {chain.job}, {chain.part}: from the pocket to the pad"
    return Drawn(title, part_figures(picture), part_words(picture), is_row=True)


def change(picture: ChangePicture) -> Drawn:
    """Draw what changed on a board, and list all changes with their impact."""
    title = f"{picture.job} of {picture.compared.new_shop.name}: what changed"
    remarks = tuple(change_remarks(picture))
    return Drawn(title, change_figures(picture), change_words(picture), remarks)


def machine(picture: MachinePicture) -> Drawn:
    """Draw the machine from above."""
    title = f"The machine of {picture.shop.name}, with {picture.job} on its seat"
    return Drawn(title, machine_figures(picture), [])
