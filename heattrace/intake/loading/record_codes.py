"""Codes of what is wrong between a row and the record, each with its title. Never renamed, never used anew."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

RECORD_CODES: Mapping[str, str] = MappingProxyType(
    {
        # The row goes to the bench.
        "REC01": "the heat is not in the record",
        "REC02": "the heat number is of another series",
        "REC03": "the heat number fits several heats",
        "REC04": "the sample is known for another heat",
        "REC05": "the sample is known as another kind",
        "REC06": "analysed before it was taken",
        "REC07": "taken before the heat was tapped",
        "REC09": "the piece is not in the record",
        "REC10": "the sequence is not in the record",
        "REC11": "the order line is not in the record",
        "REC12": "the grade is not in the grade book",
        "REC13": "the grade name fits several grades",
        "REC14": "the analysis to be amended is not clear",
        "REC15": "the strand, run or tundish is not of that sequence",
        "REC16": "neither a time nor a place on the strand",
        "REC17": "the customer is not the order's",
        "REC18": "the piece is not where that could happen to it",
        "REC19": "the number names something else already",
        "REC20": "the order line is in use with other particulars",
        "REC21": "the edition did not hold on that day",
        "REC22": "the limit cannot be read",
        "REC23": "the series of the heat cannot be told",
        "REC24": "the strand was not casting then",
        "REC29": "the cut contradicts its strand or another cut",
        # The row is taken and flagged.
        "REC30": "differs from what was recorded before",
        "REC31": "a default was taken",
        "REC32": "a contested analysis",
        "REC33": "only burns, no mean",
        "REC34": "a piece that is not released",
        "REC35": "decisions stand on what changed",
        "REC37": "a content ten times off the planned grade",
        "REC38": "a part is traced otherwise than before",
        "REC39": "a part is no longer in its cast book",
        "REC40": "grades adjoin with no separation; a hold is proposed",
        # The cast book is refused.
        "REC50": "a book is not of one cast",
        "REC51": "the sequence number is that of another cast",
        "REC52": "the heat is poured in another sequence",
        "REC53": "heats are out of order",
        "REC54": "the book contradicts itself",
    }
)
