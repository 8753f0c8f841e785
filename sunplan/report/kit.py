"""What was understood of a kit."""

from __future__ import annotations

from ..location import kit as kits
from .answers import Answer
from .document import Document, Said, Section, Table
from .words import by


def answer(kit: kits.Kit) -> Answer:
    """Answer of `sunplan check` for a kit: the file in metres and kilograms."""
    return {"kit": kit.name, **kit.model_dump(mode="json", exclude={"name"})}


def report(kit: kits.Kit) -> Document:
    """Everything in a kit, by kind."""
    rows = [
        (kind, thing.name, str(thing.owned), f"{thing.weight:g} kg", _size(thing))
        for kind in kits.KINDS
        for thing in getattr(kit, kind)
    ]
    return Document(
        f"kit {kit.name}",
        [
            Section(
                "things",
                None,
                [Table(("kind", "name", "owned", "weight", "what"), rows, grouped=True)],
            ),
            Section("notes", None, ["No mistake found."]),
        ],
    )


def _stops(loss: float) -> str:
    return f"{loss:g} stop" if loss == 1.0 else f"{loss:g} stops"


def _size(thing: kits.Owned) -> Said:
    match thing:
        case kits.Lamp():
            light = f"{thing.lux_at_1m:.0f} lx at 1 m, {thing.beam:g}°"
            return f"{light}, {thing.watts:g} W, {thing.balance:.0f} K"
        case kits.DiffusionFrame() | kits.Net():
            return by(*thing.size) + f", {_stops(thing.loss)}"
        case kits.Diffusion():
            return _stops(thing.loss)
        case kits.Flag():
            return by(*thing.size)
        case kits.Reflector():
            return by(*thing.size) + f", {', '.join(thing.sides)}"
        case kits.Stand():
            return f"{thing.lowest:.2f} to {thing.highest:.2f} m, carries {thing.load:g} kg"
        case kits.Gel():
            return f"density {thing.density:g}, roll " + by(thing.width, thing.length)
        case kits.Cloth():
            return "roll " + by(thing.width, thing.length)
        case kits.TapeRoll() | kits.Batten() | kits.Cable():
            return f"{thing.length:g} m"
        case kits.Case():
            return " × ".join(f"{side:.2f}" for side in thing.inside) + " m inside"
        case _:
            return ""
