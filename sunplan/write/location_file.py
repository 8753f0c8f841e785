"""Values put into a location file: a bearing, an owner's answers, new tables; all or nothing."""

from __future__ import annotations

from pathlib import Path

from ..errors import InputError
from ..location.edit import MARK, rewritten, with_tables
from ..location.read import Location, read_text
from ..report.bearing import tenths
from ..survey.bearing import MOST_DEG
from ..survey.corrections import Corrections
from ..survey.sightings import Tables
from ..survey.sun_bearing import Bearings
from .files import put


def write_bearing(location: Location, bearings: Bearings) -> None:
    """Put what was found into the location file; ``InputError`` where it is not one sure thing."""
    decided = bearings.decided
    if not bearings.together:
        raise InputError("--write: nothing was measured that gives plan_up; nothing was written")
    if decided is None:
        ups = " or ".join(tenths(combined.mean.bearing_deg) for combined in bearings.together)
        raise InputError(
            f"--write: plan_up may be {ups}; expected left or right, comes or leaves, or one more "
            "measurement; nothing was written"
        )
    if decided.odd is not None:
        stray = bearings.measured[decided.odd.index].reading.asked
        raise InputError(
            f"--write: the measurements do not agree: {stray} lies {decided.odd.sigmas:.1f} "
            "standard deviations off; expected it put right, left out, or with a larger ±; nothing "
            "was written"
        )
    doubts = [
        f"{measured.reading.asked}: {measured.doubt}"
        for measured in bearings.measured
        if measured.doubt
    ]
    if doubts:
        raise InputError(
            f"--write: {'; '.join(doubts)} Expected it put right, or a plan_up_error in the file "
            "as large as that; nothing was written"
        )
    if decided.mean.error_deg > MOST_DEG:
        raise InputError(
            f"--write: plan_up is known to ±{decided.mean.error_deg:.0f}° only; expected "
            f"±{MOST_DEG:.0f}° at most; nothing was written"
        )
    path = Path(location.file)
    put(path.resolve(), rewritten(path, decided.mean.bearing_deg, decided.mean.error_deg))


def write_corrections(location: Location, corrections: Corrections) -> None:
    """Put the answers into the location file, all or nothing; not where nothing changes."""
    if corrections.changes:
        put(Path(location.file).resolve(), corrections.text)


def write_tables(path: Path, tables: Tables) -> None:
    """Put new tables into a location file; nothing is written where it could not be read then.

    Raises ``LocationError`` with what would be wrong in it.
    """
    if not tables.new:
        return
    after = with_tables(path.read_bytes().decode("utf-8"), list(tables.new.values()))
    read_text(after.removeprefix(MARK), path)
    put(path.resolve(), after)
