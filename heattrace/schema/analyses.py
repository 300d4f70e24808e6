"""Samples, analyses, results: the metal, one run on it, one element's value; and the choice that speaks for a heat."""

from __future__ import annotations

from heattrace.schema.columns import (
    Row,
    ended,
    entered,
    flag,
    index,
    instant,
    key,
    live_unique,
    number,
    octets,
    offset,
    one_of,
    table,
    text,
    whole,
)


class Sample(Row, table=True):
    """The metal taken."""

    __tablename__ = "sample"
    __table_args__ = table(
        "samples of metal",
        index("sample_heat", "heat_id", "kind"),
        index("sample_no", "sample_id"),
        index("sample_part", "part_id", where="part_id IS NOT NULL"),
    )
    sample_key: int | None = key()
    sample_id: str = number("number of the sample as the laboratory writes it, normalised for search")
    written_id: str = number("as first written")
    heat_id: int | None = whole("heat; empty for a reference material or where unknown", null=True, to="heat.heat_id")
    kind: str = number("sample kind")
    taken_at: int | None = instant("taken", null=True)
    taken_offset: int | None = offset()
    tundish: str | None = number("tundish label", null=True)
    strand_no: int | None = whole("strand", null=True)
    position_text: str | None = text("strand coordinate [m]", null=True)
    ladle_mass_left_text: str | None = text("mass left in the ladle [t]", null=True)
    part_id: int | None = whole("piece it was cut from", null=True, to="part.part_id")
    piece_end: str | None = number("end of that piece", null=True)
    laboratory: str | None = number("laboratory", null=True)
    report_no: str | None = number("report", null=True)
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    row_no: int | None = whole("row in its file", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class SampleState(Row, table=True):
    """A sample registered, received, found sound or condemned, kept, discarded, lost."""

    __tablename__ = "sample_state"
    __table_args__ = table("states of samples", index("sample_state_sample", "sample_key"))
    sample_state_id: int | None = key()
    sample_key: int = whole("sample", to="sample.sample_key")
    state: str = number("state from then on")
    note: str = text("why")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Remainder(Row, table=True):
    """What is left of a sample and where it lies."""

    __tablename__ = "remainder"
    __table_args__ = table("remainders of samples", index("remainder_sample", "sample_key"))
    remainder_id: int | None = key()
    sample_key: int = whole("sample", to="sample.sample_key")
    place: str = text("where it lies")
    keep_until: int | None = instant("keep until", null=True)
    keep: int = flag("kept for a dispute")
    entry_no: int = entered()
    ended_no: int | None = ended()


class ReferenceMaterial(Row, table=True):
    """A certified material and its contents."""

    __tablename__ = "reference_material"
    __table_args__ = table("reference materials", live_unique("reference_material_name", "name"))
    reference_material_id: int | None = key()
    name: str = number("name on its certificate")
    contents: str = text("certified contents with uncertainty, canonical JSON")
    source: str = text("certificate")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Analysis(Row, table=True):
    """One run on a sample, as reported."""

    __tablename__ = "analysis"
    __table_args__ = table(
        "analyses of samples",
        one_of("state", "received", "valid", "doubtful", "contested"),
        index("analysis_sample", "sample_key"),
        index("analysis_batch", "batch_id"),
        index("analysis_supersedes", "supersedes_id", where="supersedes_id IS NOT NULL"),
        live_unique(
            "analysis_identity",
            "profile",
            "sample_key",
            "method",
            "instrument",
            "analysed_at",
            also="state <> 'contested'",
        ),
    )
    analysis_id: int | None = key("A- number")
    sample_key: int = whole("sample", to="sample.sample_key")
    profile: str = number("profile of the source")
    method: str = number("method")
    instrument: str = number("instrument; empty where not stated")
    analysed_at: int = instant("analysed")
    analysed_offset: int | None = offset()
    state: str = number("state on entry")
    state_reason: str | None = text("why that state, canonical JSON of findings", null=True)
    supersedes_id: int | None = whole("analysis it amends", null=True, to="analysis.analysis_id")
    laboratory: str | None = number("laboratory", null=True)
    report_no: str | None = number("report", null=True)
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    row_no: int | None = whole("row in its file", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class AnalysisState(Row, table=True):
    """A later state of an analysis: valid, doubtful, contested, set-aside, superseded."""

    __tablename__ = "analysis_state"
    __table_args__ = table("later states of analyses", index("analysis_state_analysis", "analysis_id"))
    analysis_state_id: int | None = key()
    analysis_id: int = whole("analysis", to="analysis.analysis_id")
    state: str = number("state from then on")
    reason: str = number("reason code")
    note: str = text("why")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Burn(Row, table=True):
    """One burn of an analysis; entry numbers are those of its analysis."""

    __tablename__ = "burn"
    __table_args__ = table("burns of analyses; all values in one packed field", rowid=False)
    analysis_id: int = key("analysis", to="analysis.analysis_id")
    burn_no: int = key("burn")
    written: str = text("burn as written")
    packed: bytes = octets("contents as reported, UTF-8 canonical JSON by element")


class Result(Row, table=True):
    """One element's value; entry numbers are those of its analysis."""

    __tablename__ = "result"
    __table_args__ = table("contents by analysis and element; whole parts per billion", rowid=False)
    analysis_id: int = key("analysis", to="analysis.analysis_id")
    element_id: int = key("element", to="element.element_id")
    value_ppb: int | None = whole("content [ppb = 1e-7 mass %]; empty when not reported", null=True)
    form_id: int = whole("how it was reported", to="result_form.form_id")


class ResultText(Row, table=True):
    """The reported text where number and form cannot rebuild it."""

    __tablename__ = "result_text"
    __table_args__ = table("reported texts finer than a part per billion or of odd form", rowid=False)
    analysis_id: int = key("analysis", to="analysis.analysis_id")
    element_id: int = key("element", to="element.element_id")
    reported: str = text("text as reported, in mass % with a decimal point")


class ResultForm(Row, table=True):
    """How a value was reported."""

    __tablename__ = "result_form"
    __table_args__ = table("forms of reported values", one_of("qualifier", "=", "<", ">", "not-reported"))
    form_id: int | None = key()
    qualifier: str = number("=, <, > or not-reported")
    unit: str = number("unit as reported")
    places: int = whole("decimals as reported, in mass %")
    method: str = number("method where it differs from the analysis; else empty")
    places_lost: int = flag("a spreadsheet may have dropped trailing zeros")


class CastAnalysis(Row, table=True):
    """The frozen choice that speaks for a heat."""

    __tablename__ = "cast_analysis"
    __table_args__ = table("frozen cast analyses", index("cast_analysis_heat", "heat_id"))
    cast_analysis_id: int | None = key()
    heat_id: int = whole("heat", to="heat.heat_id")
    rule: str = number("rule of the ladder, or reason")
    ladder_edition: int = whole("edition of the works value used; 0 is the shipped one")
    words: str = text("why, in words, canonical JSON")
    entry_no: int = entered()
    ended_no: int | None = ended()


class CastAnalysisValue(Row, table=True):
    """Which result speaks for which element; entry numbers are those of its choice."""

    __tablename__ = "cast_analysis_value"
    __table_args__ = table("results chosen", index("cast_analysis_value_analysis", "analysis_id"), rowid=False)
    cast_analysis_id: int = key("choice", to="cast_analysis.cast_analysis_id")
    element_id: int = key("element", to="element.element_id")
    analysis_id: int = whole("analysis it is taken from", to="analysis.analysis_id")
    rule: str = number("rule or reason for this element")
