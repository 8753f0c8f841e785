"""What was understood of a kit."""

from __future__ import annotations

from collections.abc import Iterable

from ..location.kit import (
    KINDS,
    Batten,
    Cable,
    Case,
    Cloth,
    Diffusion,
    Flag,
    Frame,
    Gel,
    Kit,
    Lamp,
    Net,
    Owned,
    Reflector,
    Stand,
    Tape,
)
from .answers import Answer
from .layout import Part, once, table
from .words import by


def answer(kit: Kit) -> Answer:
    """Answer of `sunplan check` for a kit: the file in metres and kilograms."""
    return {"kit": kit.name, **kit.model_dump(mode="json", exclude={"name"})}


def told(kit: Kit) -> Iterable[Part]:
    """Everything in a kit, by kind."""
    amps, volts = kit.mains.amps, kit.mains.volts
    yield f"kit {kit.name}: mains {amps:g} A, {volts:g} V where no circuit is named"
    rows = [
        (kind, one.name, str(one.owned), f"{one.weight:g} kg", _what(one))
        for kind in KINDS
        for one in getattr(kit, kind)
    ]
    yield ""
    yield table(("kind", "name", "owned", "weight", "what"), once(rows))
    yield "\nNo mistake found."


def _stops(loss: float) -> str:
    return f"{loss:g} stop" if loss == 1.0 else f"{loss:g} stops"


def _what(one: Owned) -> str:
    match one:
        case Lamp():
            light = f"{one.lux_at_1m:.0f} lx at 1 m, {one.beam:g}°"
            return f"{light}, {one.watts:g} W, {one.balance:.0f} K"
        case Frame() | Net():
            return f"{by(*one.size).render('m')}, {_stops(one.loss)}"
        case Diffusion():
            return _stops(one.loss)
        case Flag():
            return by(*one.size).render("m")
        case Reflector():
            return f"{by(*one.size).render('m')}, {', '.join(one.sides)}"
        case Stand():
            return f"{one.lowest:.2f} to {one.highest:.2f} m, carries {one.load:g} kg"
        case Gel():
            return f"density {one.density:g}, roll {by(one.width, one.length).render('m')}"
        case Cloth():
            return f"roll {by(one.width, one.length).render('m')}"
        case Tape() | Batten() | Cable():
            return f"{one.length:g} m"
        case Case():
            return " × ".join(f"{side:.2f}" for side in one.inside) + " m inside"
        case _:
            return ""
