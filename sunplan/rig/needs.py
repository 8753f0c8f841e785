"""What a setup needs at its time: what hangs where, what it takes, how long, what is dangerous."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ..light.daylight import Sky, Weather
from ..light.face import Faces
from ..light.resolved import ResolvedSetup
from ..location.kit import Kit, Owned, Stand
from ..location.model import Room
from ..location.read import Location
from . import hazards, minutes
from .electrical_load import Load, load
from .flags import FlagOption, setup_flags
from .hazards import Hazard
from .negative_fill import Panel, negative
from .room_treatment import OpeningTreatment, RoomTreatment, treatment_between
from .stretch_levels import StretchLevels, stretch_levels
from .takeoff import battens_needed, blacks


@dataclass(frozen=True, eq=False)
class Job:
    """One thing that is rigged.

    Attributes
    ----------
    label
        Its own: a job of the next setup with the same label hangs already.
    words
        For whoever hangs it.
    minutes
        To rig it, two people.
    things
        What it takes as long as it hangs, with how many of each.
    hazards
        What is dangerous about it.
    """

    label: str
    words: str
    minutes: float
    things: tuple[tuple[Owned, int], ...]
    hazards: tuple[Hazard, ...]


@dataclass(frozen=True, eq=False)
class Needs:
    """What a setup needs from one moment to another.

    Attributes
    ----------
    setup, treated
        The setup, and what each opening of its room needs.
    flags, panel
        What keeps sun off the mark, and the negative fill; None without.
    jobs
        All that is rigged.
    load
        The lamps on their circuits.
    unmet
        What nothing of the kit solves, in words.
    """

    setup: ResolvedSetup
    treated: RoomTreatment
    flags: tuple[FlagOption, ...]
    panel: Panel | None
    jobs: tuple[Job, ...]
    load: Load
    unmet: tuple[str, ...]

    @property
    def hazards(self) -> tuple[Hazard, ...]:
        """What is dangerous about its jobs, and about its room."""
        of_jobs = (hazard for job in self.jobs for hazard in job.hazards)
        return tuple(dict.fromkeys((*of_jobs, *hazards.of_room(self.setup.in_room))))

    @property
    def things(self) -> Counter[Owned]:
        """How many of each thing it takes at one time."""
        total: Counter[Owned] = Counter()
        for job in self.jobs:
            total.update(dict(job.things))
        return total


def needs(
    location: Location,
    setup: ResolvedSetup,
    *,
    start_s: float,
    end_s: float,
    weathers: Sequence[Weather],
    room: Faces,
) -> Needs:
    """What a setup needs from one moment to another.

    Parameters
    ----------
    location, setup
        The place and what is filmed.
    start_s, end_s
        The moments, seconds since 1970 UTC.
    weathers
        That it must hold in, whichever comes.
    room
        The light of the setup's room, with its face among its own.

    Raises
    ------
    ValueError
        If the setup is none of the room's.
    """
    (light,) = stretch_levels(location, [setup], [room], [start_s, end_s], weathers)
    done = treatment_between(light, start_s, end_s)
    unmet = _untreated(done)
    stops = setup_flags(location, setup, start_s=start_s, end_s=end_s)
    flags = tuple(option for option in stops.taken if option.opening not in done.covered)
    unmet += [
        f"{name}: sun on the mark that no flag stops"
        for name in stops.unmet
        if name not in done.covered
    ]
    panel = None
    sky = too_filled(light, done)
    if sky is not None:
        fill = negative(room, setup, sky, opening_shares=done.shares_left)
        panel = fill.best
        if panel is None:
            unmet.append(
                f"key to fill {fill.before.ratio:.1f} : 1 instead of {setup.contrast:g}, and no "
                "panel of the kit brings it: see negfill"
            )
    jobs = [
        *opening_jobs(done),
        *flag_jobs(setup, flags),
        *_panel_job(setup, panel),
        *key_jobs(setup),
    ]
    return Needs(
        setup=setup,
        treated=done,
        flags=flags,
        panel=panel,
        jobs=tuple(jobs),
        load=load(location, setup),
        unmet=tuple(unmet),
    )


def _untreated(done: RoomTreatment) -> list[str]:
    """What no treatment solves."""
    unmet = [
        f"{name}: nothing brings it down, neither gel nor exposure nor a curtain, and nobody can "
        "tent it; another angle, see gap"
        for name in done.unsolved
    ]
    return unmet + [
        f"{treatment.opening.name}: too dark for the look in a part of this time, "
        f"{'even without gel' if not treatment.gels else 'with its gel on'}"
        for treatment in done.openings
        if treatment.too_dark
    ]


def too_filled(light: StretchLevels, done: RoomTreatment) -> Sky | None:
    """The minute and sky of a stretch at which a face's shadow side is filled most.

    None where the contrast that is wanted holds through all of it, or none is wanted. What hangs
    before the openings by then, `done`, is counted in.
    """
    contrast = light.setup.contrast
    if contrast is None:
        return None
    ratio, sky = light.ratio(done.shares_left, done.start_s, done.end_s)
    return sky if ratio < contrast else None


def opening_jobs(done: RoomTreatment) -> Iterator[Job]:
    """Jobs of a room's openings: the exposure, gel, curtains, black, tents, the leak check."""
    room, kit = done.setup.in_room, done.setup.from_kit
    if done.down_stops:
        yield Job(
            f"{done.setup.name}: exposure",
            f"stop down {done.down_stops:.1f}, the key up as much",
            minutes.of("exposure"),
            (),
            (),
        )
    for treated in done.openings:
        if treated.action in ("gel", "dressing"):
            yield _gel_job(room, treated)
        elif treated.dark:
            yield _dark_job(room, treated, kit)
    if done.covered:
        dangers: tuple[Hazard, ...] = ("dark room", "exits")
        yield Job(f"{room.name}: leaks", "light-leak check", minutes.of("leaks"), (), dangers)


def _gel_job(room: Room, treated: OpeningTreatment) -> Job:
    """Gel on the glass, or a dressing drawn before it, with gel or without."""
    layers, name = " + ".join(gel.name for gel in treated.gels), treated.opening.name
    label = f"{room.name}: {name}: {treated.action} {layers}"
    words, spent = f"{layers} on {name}", minutes.of("gel_in_frame") * len(treated.gels)
    if treated.action == "dressing":
        assert treated.window is not None
        hang = treated.window.hang
        label += f" {hang}"
        words = f"{hang} before {name}" + (f", {layers} on its glass" if layers else "")
        spent += minutes.of("dressing")
    return Job(label, words, spent, (), _reach(room, treated, ()))


def _dark_job(room: Room, treated: OpeningTreatment, kit: Kit) -> Job:
    """Black over an opening, or a tent before it."""
    name = treated.opening.name
    things: list[tuple[Owned, int]] = []
    if kit.batten:
        longest = max(kit.batten, key=lambda batten: batten.length)
        # Head and foot of the window's cloth, or of the tent's front.
        ends = 2 * [blacks(room.name, treated)[0].width_m]
        things.append((longest, battens_needed(ends, longest.length)))
    words = f"black out {name}"
    if treated.action == "tent":
        words = f"tent outside {name}, lit dusk blue"
        if kit.stand:
            things += _on_stands(kit, max(kit.stand, key=lambda stand: stand.load), 2, 2)
    label = f"{room.name}: {name}: {treated.action}"
    return Job(label, words, minutes.opening(treated), tuple(things), _dark_hazards(room, treated))


def _dark_hazards(room: Room, treated: OpeningTreatment) -> tuple[Hazard, ...]:
    dangers: list[Hazard] = ["hot glass"] if treated.sunlit and treated.action == "black" else []
    if treated.action == "tent":
        dangers += ["stands", *hazards.OUTSIDE]
    if hazards.is_door(treated.opening.opening):
        dangers.append("exits")
    return _reach(room, treated, dangers)


def _reach(room: Room, treated: OpeningTreatment, dangers: Sequence[Hazard]) -> tuple[Hazard, ...]:
    dangers = (*dangers, *hazards.at_opening(room, treated.opening.opening))
    if treated.opening.wall is None:
        return (*dangers, "overhead", "steps", "roof")
    return (*dangers, "steps") if minutes.tall(treated.opening) else dangers


def flag_jobs(setup: ResolvedSetup, options: Sequence[FlagOption]) -> Iterator[Job]:
    """Jobs of flags with their stands, one an option."""
    kit = setup.from_kit
    for option in options:
        things: list[tuple[Owned, int]] = [
            (flag, option.flags.count(flag)) for flag in dict.fromkeys(option.flags)
        ]
        if option.stand is not None:
            bags = 2 if option.placement == "outside" else 1
            things += _on_stands(kit, option.stand, len(option.flags), bags)
        yield Job(
            label=f"{setup.name}: flag {option.opening}",
            words=f"{option.name} for {option.opening}, {option.placement}",
            minutes=minutes.flags(option) + minutes.moving(option),
            things=tuple(things),
            hazards=hazards.flags(option, setup.in_room),
        )


def _panel_job(setup: ResolvedSetup, panel: Panel | None) -> Iterator[Job]:
    if panel is None:
        return
    kit = setup.from_kit
    things: list[tuple[Owned, int]] = [(panel.stock, 1)]
    if panel.stand is not None:
        things += _on_stands(kit, panel.stand, 1, 1)
    yield Job(
        label=f"{setup.name}: negative",
        words=f"negative fill: {panel.stock.name}, black side to the face",
        minutes=minutes.of("panel"),
        things=tuple(things),
        hazards=(
            *(("stands",) if panel.stand is not None else ()),
            *hazards.of_room(setup.in_room),
        ),
    )


def key_jobs(setup: ResolvedSetup) -> Iterator[Job]:
    """The job of the key lamp with its frame, stands and cable; none without a key."""
    if setup.key is None:
        return
    kit = setup.from_kit
    lamp = kit.lamp_named(setup.key.lamp)
    things: list[tuple[Owned, int]] = [(lamp, 1)]
    stands = 1
    if setup.key.frame is not None:
        things.append((kit.frame_named(setup.key.frame), 1))
        stands = 2
    if kit.stand:
        fit = kit.stand_for(setup.key.height, setup.key.height, lamp.weight)
        things += _on_stands(kit, kit.stand[0] if fit is None else fit, stands, stands)
    if kit.cable:
        things.append((max(kit.cable, key=lambda cable: cable.length), 1))
    where = f"{setup.room} {setup.key.at} {setup.key.height}"
    dangers: list[Hazard] = ["stands", "lamp", "circuits", *hazards.of_room(setup.in_room)]
    if setup.key.off is not None and setup.key.off.mirror:
        dangers.append("mirror")
    yield Job(
        label=f"lamp {setup.key.named} at {where}",
        words=f"key: {setup.key.named}",
        minutes=minutes.of("lamp"),
        things=tuple(things),
        hazards=tuple(dangers),
    )


def _on_stands(kit: Kit, stand: Stand, count: int, bags: int) -> list[tuple[Owned, int]]:
    """Stands, an arm each where the kit has arms of their own, and bags."""
    things: list[tuple[Owned, int]] = [(stand, count)]
    if kit.arm:
        things.append((kit.arm[0], count))
    if kit.bag:
        things.append((kit.bag[0], bags))
    return things
