"""What skies are called, and which of them are reckoned with."""

from __future__ import annotations

from typing import Literal, get_args

SkyName = Literal["clear", "hazy", "broken", "overcast"]
WeatherName = Literal["sun", "any"]  # what the sun does, or any weather
SKY_NAMES: tuple[SkyName, ...] = get_args(SkyName)
CLOUDY: tuple[SkyName, ...] = ("broken", "overcast")
SCOUTED: tuple[SkyName, ...] = ("clear", "overcast")  # the two that a scout must reckon with
SKIES_OF: dict[WeatherName, tuple[SkyName, ...]] = {"sun": SCOUTED[:1], "any": SCOUTED}
