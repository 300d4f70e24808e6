"""The profiles that come with the tool."""

from __future__ import annotations

from functools import cache
from importlib import resources

from heattrace.errors import NotFound
from heattrace.intake.profiles.profile import Profile
from heattrace.intake.profiles.profile_text import read_profile


@cache
def shipped_names() -> tuple[str, ...]:
    """Names of the profiles that come with the tool, sorted."""
    folder = resources.files("heattrace.intake").joinpath("shipped", "profiles")
    return tuple(sorted(entry.name.removesuffix(".toml") for entry in folder.iterdir() if entry.name.endswith(".toml")))


@cache
def shipped(name: str) -> Profile:
    """A profile that comes with the tool.

    Raises
    ------
    NotFound
        No shipped profile has that name; the message lists those there are.
    """
    if name not in shipped_names():
        raise NotFound(
            f'no profile "{name}"; shipped with the tool are {", ".join(shipped_names())}. '
            "Add your own with: heattrace profile add FILE"
        )
    folder = resources.files("heattrace.intake").joinpath("shipped", "profiles")
    return read_profile(folder.joinpath(f"{name}.toml").read_text("utf-8"))
