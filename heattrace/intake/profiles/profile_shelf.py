"""The profiles of a works: those in its database, by editions, and those that come with the tool."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches

from heattrace.errors import NotFound, Refused
from heattrace.intake.profiles.profile import Profile
from heattrace.intake.profiles.profile_text import read_profile
from heattrace.intake.profiles.shipped import shipped, shipped_names
from heattrace.store.reader import Reader
from heattrace.store.work import Work

_ALL = "SELECT p.profile_id, p.name, p.edition, p.takes, p.body FROM profile p WHERE {live:p} ORDER BY p.name"
_NAMED = "SELECT p.profile_id, p.edition, p.body FROM profile p WHERE {live:p} AND p.name = :name"
_EDITION = "SELECT body FROM profile WHERE name = :name AND edition = :edition"
_LAST = "SELECT coalesce(max(edition), 0) FROM profile WHERE name = :name"


@dataclass(frozen=True, slots=True)
class Shelved:
    """A profile and its edition; 0 is the one that comes with the tool."""

    profile: Profile
    edition: int

    @property
    def origin(self) -> str:
        """Where it comes from, for a person."""
        return "comes with the tool" if self.edition == 0 else f"of this works, edition {self.edition}"


def all_profiles(reader: Reader | None) -> list[Shelved]:
    """Every profile in force: the works' own, then the shipped ones."""
    own = [] if reader is None else [Shelved(read_profile(r["body"]), r["edition"]) for r in reader.all(_ALL)]
    return own + [Shelved(shipped(name), 0) for name in shipped_names()]


def find_profile(reader: Reader | None, name: str) -> Shelved:
    """The profile of that name.

    Raises
    ------
    NotFound
        Neither the works nor the tool has it; the nearest names are listed.
    """
    if name in shipped_names():
        return Shelved(shipped(name), 0)
    row = None if reader is None else reader.one(_NAMED, name=name)
    if row is not None:
        return Shelved(read_profile(row["body"]), int(row["edition"]))
    known = [*shipped_names(), *([] if reader is None else [r["name"] for r in reader.all(_ALL)])]
    near = get_close_matches(name, known, n=3, cutoff=0.4) or sorted(known)
    step = "Add your own with: heattrace profile add FILE"
    raise NotFound(f'no profile "{name}"; nearest: {", ".join(near)}. {step}')


def profile_of_edition(reader: Reader, name: str, edition: int) -> Profile:
    """A profile as it was when a file was read with it."""
    if edition == 0:
        return shipped(name)
    body = reader.scalar(_EDITION, name=name, edition=edition)
    if body is None:
        raise NotFound(f"profile {name} has no edition {edition}")
    return read_profile(str(body))


def add_profile(work: Work, text: str) -> tuple[Shelved, bool]:
    """Put a profile on the shelf as its next edition; gives it, and whether anything was written.

    Raises
    ------
    FileRefused
        The text is no profile; a finding for every fault.
    Refused
        The name is that of a shipped profile.
    """
    from heattrace.schema.intake import Profile as ProfileRow

    profile = read_profile(text)
    if profile.name in shipped_names():
        raise Refused(
            f'"{profile.name}" is the name of a profile that comes with the tool; give yours another name, '
            f"for instance {profile.name}-works"
        )
    known = work.reader.one(_NAMED, name=profile.name)
    if known is not None and known["body"] == text:
        return Shelved(profile, int(known["edition"])), False
    edition = int(work.reader.scalar(_LAST, name=profile.name)) + 1
    if known is not None:
        work.end("profile", "profile_id", [known["profile_id"]])
    work.add(ProfileRow(name=profile.name, edition=edition, takes=profile.takes, body=text))
    return Shelved(profile, edition), True
