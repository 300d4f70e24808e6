"""Which tundish a strand run draws on, minute by minute, and where its own tail lies."""

from __future__ import annotations

from dataclasses import dataclass

from heattrace.findings import Finding
from heattrace.strand.record import Cast, CastUnreadable, Run
from heattrace.strand.timeline import SAME_PLACE_M, Timeline, timeline_of


@dataclass(frozen=True, slots=True)
class Draw:
    """A run draws on one tundish from `start` to `end` [min]."""

    tundish: str
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class RunFeeding:
    """The draws of one run in time order without a gap between them, its length and its timeline.

    `s_end` is S at the last feed's end; while the run is still fed (`ended` False) it is S at the book's last time.
    """

    run: Run
    draws: tuple[Draw, ...]
    timeline: Timeline
    s_end: float
    ended: bool
    findings: tuple[Finding, ...]


def run_words(run: Run) -> str:
    """How messages name a run."""
    return f"strand {run.strand_no} run {run.run_no}"


def book_end(cast: Cast) -> float:
    """The book's last time [min]: as given, never before a time of the record; cuts set aside do not count."""
    times = [cast.last_time, cast.recorded_until]
    for pour in cast.pours:
        times += [pour.opened, pour.closed]
    for tundish in cast.tundishes:
        times += [t for t, _ in tundish.readings]
    for run in cast.runs:
        times += [run.started, run.stopped]
        times += [t for t, _ in run.speeds]
        times += [t for t, _ in run.counters]
        times += [cut.clamped for cut in run.cuts if not cut.faulty]
        for feed in run.feeds:
            times += [feed.start, feed.to]
    return max(t for t in times if t is not None)


def feeding_of(run: Run, last_time: float, bracket: str = "nominal") -> RunFeeding:
    """Draws and length of one run.

    A run draws on its first tundish from its start. Between two feeds it draws on the tundish it last had, so that
    steel moved with no feed carries that tundish's last mix (finding `moved-without-feed`). What moves after the last
    feed's end is withdrawal and no steel.

    Raises
    ------
    CastUnreadable
        A run without a feed, or a feed that ends before it begins.
    """
    feeds = sorted(run.feeds, key=lambda feed: feed.start)
    if not feeds:
        raise CastUnreadable(f"{run_words(run)}: no feed; add its tundish and times to the feeds sheet")
    for feed in feeds:
        if feed.to is not None and feed.to < feed.start:
            raise CastUnreadable(
                f"{run_words(run)}: the feed from tundish {feed.tundish} ends at minute {feed.to:g}, "
                f"before it begins at {feed.start:g}; correct the feeds sheet"
            )
    feed_end = feeds[-1].to
    timeline = timeline_of(run, last_time, feed_end, bracket)
    findings: list[Finding] = []
    if feed_end is None and run.stopped is not None:
        findings.append(
            Finding(
                "stopped-but-fed",
                run_words(run),
                "stopped_at without the end of its last feed",
                "feeds.to_at",
                "give the end of the feed; until then the strand counts as fed to the book's last time",
            )
        )
    draws: list[Draw] = []
    for index, feed in enumerate(feeds):
        start = run.started if index == 0 else max(run.started, feed.start)
        last = index + 1 == len(feeds)
        end = (last_time if feed.to is None else feed.to) if last else feeds[index + 1].start
        if not last:
            findings += _between_feeds(run, timeline, feed.to, end)
        if end > start:
            draws.append(Draw(feed.tundish, start, end))
    s_end = timeline.s_at(last_time if feed_end is None else feed_end)
    return RunFeeding(run, tuple(draws), timeline, s_end, feed_end is not None, tuple(findings))


def _between_feeds(run: Run, timeline: Timeline, to: float | None, following: float) -> list[Finding]:
    """Findings on the join of two feeds: movement without feed, or a feed still open when the next begins."""
    if to is None or to > following:
        seen = "no end" if to is None else f"an end at minute {to:g}"
        return [
            Finding(
                "feeds-overlap",
                run_words(run),
                f"a feed with {seen}",
                f"an end by minute {following:g}",
                "the feed is taken to end where the next one begins; correct the feeds sheet",
            )
        ]
    moved = timeline.s_at(following) - timeline.s_at(to)
    if moved <= SAME_PLACE_M:
        return []
    return [
        Finding(
            "moved-without-feed",
            run_words(run),
            f"{moved:.3f} m between two feeds, minute {to:g} to {following:g}",
            "a strand that stands, or a feed",
            "its steel is taken from the tundish it last had, at its last mix",
        )
    ]
