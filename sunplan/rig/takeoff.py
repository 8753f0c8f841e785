"""The take-off: which pieces of cloth and gel to cut for the openings, and from which rolls."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..errors import InputError
from ..location.kit import Cloth, Gel, Kit
from .nesting import Layout, Piece, lay_out, panels
from .room_treatment import OpeningTreatment, RoomTreatment

CLOTH_EDGE_M = 0.1  # of cloth past an opening, all round; common practice, no source
GEL_EDGE_M = 0.03  # of gel past the glass, all round; common practice, no source
TENT_M = 1.0  # how far a tent stands off the wall; 0.6 to 1.2 unlit, common practice, no source
TENT_EDGE_M = 0.3  # how much wider and higher than its window it is; common practice, no source


@dataclass(frozen=True, eq=False)
class Material:
    """One stock by the roll with all pieces that are cut from it.

    Attributes
    ----------
    stock, pieces
        The cloth or gel, and what is cut.
    layout
        How the pieces lie on rolls; None where no roll takes them.
    why_not
        The reason for that.
    """

    stock: Cloth | Gel
    pieces: tuple[Piece, ...]
    layout: Layout | None
    why_not: str | None

    @property
    def rolls(self) -> int:
        """How many rolls it takes."""
        return 0 if self.layout is None else len(self.layout.lengths_m)


@dataclass(frozen=True, eq=False)
class TakeOff:
    """All that is cut.

    Attributes
    ----------
    materials
        One a cloth and gel.
    tape_m
        What holds it all, metres of tape.
    uncut
        Pieces of cloth for which the kit has no roll.
    """

    materials: tuple[Material, ...]
    tape_m: float
    uncut: tuple[Piece, ...]


def cloth_for(kit: Kit) -> Cloth | None:
    """The kit's widest cloth: the fewest seams."""
    return max(kit.cloth, key=lambda cloth: cloth.width, default=None)


def blacks(room: str, treatment: OpeningTreatment) -> tuple[Piece, ...]:
    """The cloth of a blacked or tented opening: it laps `CLOTH_EDGE_M` over, a tent stands off."""
    opening = treatment.opening
    name, width, height = f"{room}: {opening.name}", opening.width, opening.height
    if treatment.action == "black":
        return (Piece(name, width + 2 * CLOTH_EDGE_M, height + 2 * CLOTH_EDGE_M, room),)
    wide, high = width + 2 * TENT_EDGE_M, height + 2 * TENT_EDGE_M
    return (
        Piece(f"{name}, tent front", wide, high, room),
        Piece(f"{name}, tent left", TENT_M, high, room),
        Piece(f"{name}, tent right", TENT_M, high, room),
        Piece(f"{name}, tent top", wide, TENT_M, room),
    )


def gel_piece(room: str, treatment: OpeningTreatment, layer: int) -> Piece:
    """One layer of gel on an opening, `GEL_EDGE_M` larger all round; the first layer is 1."""
    opening = treatment.opening
    name = f"{room}: {opening.name}" + (f", layer {layer}" if layer > 1 else "")
    return Piece(name, opening.width + 2 * GEL_EDGE_M, opening.height + 2 * GEL_EDGE_M, room)


def takeoff(done: Sequence[RoomTreatment]) -> TakeOff:
    """What to cut for all setups together: what hangs for one serves the next in its room.

    Parameters
    ----------
    done
        How the openings of each setup are treated.

    Returns
    -------
    A layout for each cloth and gel, and the tape: round each piece, and on both faces of seams.
    """
    wanted: dict[Cloth | Gel | None, dict[Piece, None]] = {}
    for treated in done:
        kit = treated.setup.from_kit
        for treatment in treated.openings:
            if treatment.dark:
                for piece in blacks(treated.setup.room, treatment):
                    wanted.setdefault(cloth_for(kit), {})[piece] = None
            for layer, gel in enumerate(treatment.gels, 1):
                # The second of one density is a second piece.
                same = layer - treatment.gels.index(gel)
                piece = gel_piece(treated.setup.room, treatment, same)
                wanted.setdefault(gel, {})[piece] = None
    materials, tape = [], 0.0
    for stock, needed in wanted.items():
        pieces = tuple(needed)
        tape += sum(2.0 * (piece.width_m + piece.height_m) for piece in pieces)
        if stock is None:
            continue
        material = _cut(stock, pieces)
        materials.append(material)
        if material.layout is not None:
            tape += sum(_seams_m(piece, stock) for piece in pieces)
    return TakeOff(
        materials=tuple(materials),
        tape_m=tape,
        uncut=tuple(wanted.get(None, ())),
    )


def _cut(stock: Cloth | Gel, pieces: tuple[Piece, ...]) -> Material:
    try:
        layout = lay_out(pieces, stock.width, roll_length_m=stock.length)
    except InputError as error:
        return Material(stock, pieces, None, str(error))
    return Material(stock, pieces, layout, None)


def _seams_m(piece: Piece, stock: Cloth | Gel) -> float:
    """Tape on both faces of the seams between a piece's panels."""
    parts = panels(piece, stock.width, roll_length_m=stock.length)
    longest = max(parts[0].width_m, parts[0].height_m)
    return 2.0 * (len(parts) - 1) * longest


def battens_needed(lengths_m: Sequence[float], stock_m: float) -> int:
    """How many battens of one length make all these; longer ones are joined.

    >>> battens_needed([1.2, 1.2, 2.6], 2.4)
    4
    """
    return sum(math.ceil(length / stock_m - 1e-9) for length in lengths_m)
