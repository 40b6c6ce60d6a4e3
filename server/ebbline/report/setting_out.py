"""How publications are set: on which paper, and on which ground pictures stand."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias, get_args

Paper: TypeAlias = Literal["a4", "us-letter"]
Ground: TypeAlias = Literal["paper", "night", "clear"]
PAPERS: tuple[Paper, ...] = get_args(Paper)
GROUNDS: tuple[Ground, ...] = get_args(Ground)


@dataclass(frozen=True, slots=True)
class SettingOut:
    """``ground``: pictures as on paper, light on dark, or light without any ground, to lie over a
    film.
    """

    paper: Paper = "a4"
    ground: Ground = "paper"


USUAL_OUT = SettingOut()
