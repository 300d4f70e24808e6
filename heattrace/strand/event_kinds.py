"""Kinds of event of a cast: words of the shop for what happens to a strand, a tundish or a ladle."""

from __future__ import annotations

EVENT_KINDS = (
    "cast-start", "cast-end", "strand-start", "strand-stop", "restart", "speed-change", "level-swing", "nozzle-clog",
    "nozzle-change", "stopper-hunt", "open-stream", "shroud-off", "argon-loss", "lubricant-change", "lubricant-fault",
    "mould-change", "oscillation-fault", "stirrer-fault", "spray-fault", "reduction-fault", "sticker-alarm", "bleed",
    "breakout", "cold-straightening", "torch-fault", "sample-cut", "tundish-start", "tundish-low", "tundish-exchange",
    "tundish-cover-change", "ladle-open", "ladle-close", "ladle-change", "ladle-slag-seen", "late-addition",
    "wire-fault",
)  # fmt: skip
