"""The chemistry of heats from the record: states, digits, and the analysis that speaks for a heat."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from heattrace.metallurgy.amount import Amount
from heattrace.schema.analyses import Result, ResultForm, ResultText, SampleState
from heattrace.store.engine import open_reader
from heattrace.store.recorded import to_whole
from heattrace.store.work import Work, begin_work
from heattrace.store.works import works_zone
from heattrace.tracing.analyses import amount_of
from heattrace.tracing.chemistry import HeatChemistry, chemistry_of_heats
from tests.make import (
    make_addition,
    make_analysis,
    make_cast_analysis,
    make_form,
    make_heat,
    make_sample,
    moment,
)


def written(store: str) -> Work:
    return begin_work(store, by="T. Test", action="test", subject="chemistry")  # type: ignore[return-value]


def chemistry(store: str, heat_id: int) -> HeatChemistry:
    with open_reader(store) as reader:
        return chemistry_of_heats(reader, [heat_id])[heat_id]


def shown(heat: HeatChemistry) -> dict[str, str]:
    return {element: amount.shown() for element, amount in heat.composition().items()}


def test_steady_tundish_sample_speaks_before_a_ladle_sample(store: str) -> None:
    with written(store) as work:
        heat = make_heat(work)
        make_analysis(work, make_sample(work, heat, "L1", kind="ladle-final", taken_at=moment("06:50")), "C=0.19")
        steady = make_analysis(work, make_sample(work, heat, "T1", taken_at=moment("07:40")), "C=0.18 N=<0.0020")
        work.commit()
    found = chemistry(store, heat)
    assert shown(found) == {"C": "0.18", "N": "<0.0020"}
    assert found.choice.rule == "tundish-steady"
    assert found.cast_ids() == {steady}
    assert found.frozen is None


@pytest.mark.parametrize(
    ("added", "speaks"), [("06:40", {"C": "0.19"}), ("06:55", {})], ids=["added before it", "added after it"]
)
def test_ladle_sample_is_too_old_once_something_was_added_after_it(
    store: str, added: str, speaks: dict[str, str]
) -> None:
    with written(store) as work:
        heat = make_heat(work)
        make_analysis(work, make_sample(work, heat, "L1", kind="ladle-final", taken_at=moment("06:50")), "C=0.19")
        make_addition(work, heat, added_at=moment(added))
        work.commit()
    found = chemistry(store, heat)
    assert shown(found) == speaks
    assert speaks or "something was added to the ladle after it" in " ".join(found.choice.words)


def test_combustion_speaks_for_carbon_where_two_methods_report_one_sample(store: str) -> None:
    with written(store) as work:
        heat = make_heat(work)
        sample = make_sample(work, heat, "T1")
        spark = make_analysis(work, sample, "C=0.186 Mn=1.44 S=0.009", method="spark-emission")
        other = make_analysis(work, sample, "C=0.182 S=0.009", method="combustion", instrument="CS1")
        work.commit()
    found = chemistry(store, heat)
    assert shown(found) == {"C": "0.182", "Mn": "1.44", "S": "0.009"}
    assert {e: p.analysis_id for e, p in found.choice.picks.items()} == {"C": other, "Mn": spark, "S": other}
    assert [f.code for f in found.choice.findings] == ["CHEM-DISAGREE"]


@pytest.mark.parametrize("state", ["contested", "doubtful", "received"])
def test_unsettled_analysis_never_speaks(store: str, state: str) -> None:
    with written(store) as work:
        heat = make_heat(work)
        make_analysis(work, make_sample(work, heat, "T1"), "C=0.18", state=state)
        work.commit()
    assert chemistry(store, heat).composition() == {}


@pytest.mark.parametrize("later", ["set-aside", "contested", "superseded", "doubtful"])
def test_state_now_counts_not_the_one_on_entry(store: str, later: str) -> None:
    with written(store) as work:
        heat = make_heat(work)
        make_analysis(work, make_sample(work, heat, "T1"), "C=0.18", state="valid", later_state=later)
        work.commit()
    found = chemistry(store, heat)
    assert found.composition() == {}
    assert found.samples[0].analyses[0].state == later
    assert found.samples[0].analyses[0].why == "TYPING: made for a test"


def test_contested_analysis_speaks_once_it_is_settled(store: str) -> None:
    with written(store) as work:
        heat = make_heat(work)
        make_analysis(work, make_sample(work, heat, "T1"), "C=0.18", state="contested", later_state="valid")
        work.commit()
    assert shown(chemistry(store, heat)) == {"C": "0.18"}


def test_amended_analysis_gives_way_to_the_amendment(store: str) -> None:
    with written(store) as work:
        heat = make_heat(work)
        sample = make_sample(work, heat, "T1")
        first = make_analysis(work, sample, "C=0.18 N=0.0080")
        make_analysis(work, sample, "C=0.18 N=0.0062", analysed_at=moment("09:00"), supersedes_id=first)
        work.commit()
    found = chemistry(store, heat)
    assert shown(found)["N"] == "0.0062"
    assert [(a.analysis_id == first, a.state) for a in found.samples[0].analyses] == [
        (True, "superseded"),
        (False, "valid"),
    ]


@pytest.mark.parametrize("state", ["contested", "set-aside"])
def test_amendment_that_does_not_stand_takes_nothings_place(store: str, state: str) -> None:
    with written(store) as work:
        heat = make_heat(work)
        sample = make_sample(work, heat, "T1")
        first = make_analysis(work, sample, "C=0.18")
        later = state if state == "set-aside" else None
        make_analysis(
            work, sample, "C=0.21", analysed_at=moment("09:00"), supersedes_id=first,
            state="contested" if state == "contested" else "valid", later_state=later,
        )  # fmt: skip
        work.commit()
    found = chemistry(store, heat)
    assert shown(found) == {"C": "0.18"}
    assert found.samples[0].analyses[0].state == "valid"


def test_amendment_on_another_sample_is_found(store: str) -> None:
    """An analysis typed to the wrong heat and amended there is of no use to the first heat."""
    with written(store) as work:
        wrong, right = make_heat(work, "41878"), make_heat(work, "41879")
        first = make_analysis(work, make_sample(work, wrong, "T1"), "C=0.18")
        make_analysis(work, make_sample(work, right, "T2"), "C=0.18", supersedes_id=first)
        work.commit()
    assert chemistry(store, wrong).composition() == {}
    assert shown(chemistry(store, right)) == {"C": "0.18"}


def test_condemned_sample_never_speaks(store: str) -> None:
    with written(store) as work:
        heat = make_heat(work)
        sample = make_sample(work, heat, "T1")
        make_analysis(work, sample, "C=0.18")
        work.add(SampleState(sample_key=sample, state="condemned", note="porous"))
        work.commit()
    assert chemistry(store, heat).composition() == {}


def test_undone_analysis_is_gone_and_still_there_as_of_then(store: str) -> None:
    with written(store) as work:
        heat = make_heat(work)
        analysis = make_analysis(work, make_sample(work, heat, "T1"), "C=0.18")
        before = work.commit()
    with written(store) as work:
        work.end("analysis", "analysis_id", [analysis])
        work.commit()
    assert chemistry(store, heat).composition() == {}
    with open_reader(store, as_of=before) as reader:
        assert shown(chemistry_of_heats(reader, [heat])[heat]) == {"C": "0.18"}


def test_frozen_choice_speaks_and_says_what_changed_since(store: str) -> None:
    with written(store) as work:
        heat = make_heat(work)
        sample = make_sample(work, heat, "T1")
        first = make_analysis(work, sample, "C=0.18 N=0.0080")
        frozen = make_cast_analysis(work, heat, {"C": first, "N": first})
        make_analysis(work, sample, "C=0.18 N=0.0062", analysed_at=moment("09:00"), supersedes_id=first)
        work.commit()
    found = chemistry(store, heat)
    assert found.frozen == frozen
    assert shown(found) == {"C": "0.18", "N": "0.0080"}
    assert [f.code for f in found.choice.findings] == ["CHEM-AMENDED", "CHEM-LATE"]
    assert "N 0.0062 of A-2" in found.choice.findings[1].seen


def test_newest_frozen_choice_speaks(store: str) -> None:
    with written(store) as work:
        heat = make_heat(work)
        first = make_analysis(work, make_sample(work, heat, "T1"), "C=0.18")
        second = make_analysis(work, make_sample(work, heat, "T2", kind="mould"), "C=0.19")
        make_cast_analysis(work, heat, {"C": first})
        make_cast_analysis(work, heat, {"C": second}, rule="SAMPLE-POROUS")
        work.commit()
    found = chemistry(store, heat)
    assert shown(found) == {"C": "0.19"}
    assert found.choice.findings == ()


def test_element_with_a_method_of_its_own_is_ranked_by_it(store: str) -> None:
    with written(store) as work:
        heat = make_heat(work)
        sample = make_sample(work, heat, "T1")
        make_analysis(work, sample, "C=0.186 Mn=1.44", analysed_at=moment("08:30"))
        odd = make_analysis(work, sample, "Mn=1.45")
        form = work.add(ResultForm(qualifier="=", unit="%", places=3, method="combustion"))
        work.add(Result(analysis_id=odd, element_id=1, value_ppb=1_820_000, form_id=form))
        work.commit()
    found = chemistry(store, heat)
    assert shown(found)["C"] == "0.182"
    assert found.choice.picks["C"].method == "combustion"


def test_samples_are_given_as_promised(store: str) -> None:
    with written(store) as work:
        heat = make_heat(work, "41878")
        sample = make_sample(work, heat, "41878-T1", taken_at=moment("07:40"))
        make_analysis(work, sample, "C=0.180 N=<0.0020")
        form = make_form(work, "not-reported", 0)
        work.add(Result(analysis_id=1, element_id=3, value_ppb=None, form_id=form))
        work.commit()
    with open_reader(store) as reader:
        found = chemistry_of_heats(reader, [heat])[heat].samples_json(works_zone(reader))
    assert found == [
        {
            "sample_id": "41878-T1",
            "kind": "tundish-steady",
            "heat_no": "41878",
            "taken_at": "2026-03-02T07:40:00+00:00",
            "analyses": [
                {
                    "analysis_no": "A-1",
                    "method": "spark-emission",
                    "state": "valid",
                    "is_cast": True,
                    "results": [
                        {"element": "C", "reported": "0.180", "unit": "%"},
                        {"element": "Mn", "reported": None, "unit": "%"},
                        {"element": "N", "reported": "<0.0020", "unit": "%"},
                    ],
                }
            ],
        }
    ]


def test_word_for_over_the_range_is_kept_and_speaks_for_nothing(store: str) -> None:
    with written(store) as work:
        heat = make_heat(work)
        analysis = make_analysis(work, make_sample(work, heat, "T1"), "C=0.18")
        form = make_form(work, "not-reported", 0)
        work.add(Result(analysis_id=analysis, element_id=3, value_ppb=None, form_id=form))
        work.add(ResultText(analysis_id=analysis, element_id=3, reported="OVER"))
        work.commit()
    with open_reader(store) as reader:
        found = chemistry_of_heats(reader, [heat])[heat]
        results = found.samples_json(works_zone(reader))[0]["analyses"][0]["results"]
    assert results[1] == {"element": "Mn", "reported": "OVER", "unit": "%"}
    assert shown(found) == {"C": "0.18"}


def test_many_heats_cost_no_more_questions_than_one(store: str) -> None:
    with written(store) as work:
        heats = [make_heat(work, f"{41000 + n}") for n in range(30)]
        for heat in heats:
            make_analysis(work, make_sample(work, heat, f"{heat}-T1"), "C=0.18")
        work.commit()
    counts = []
    for asked in (heats[:1], heats):
        with open_reader(store) as reader:
            said: list[str] = []
            reader.connection.set_trace_callback(said.append)
            assert len(chemistry_of_heats(reader, asked)) == len(asked)
            counts.append(len(said))
    assert counts[0] == counts[1] > 0


def _pointed(number: int, places: int) -> str:
    digits = str(number).rjust(places + 1, "0")
    return f"{digits[:-places]}.{digits[-places:]}" if places else digits


# Contents of 0 to 100 % with up to twelve places.
texts = st.tuples(
    st.sampled_from(["=", "<", ">"]),
    st.integers(0, 12).flatmap(lambda p: st.integers(0, 100 * 10**p).map(lambda n: _pointed(n, p))),
)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(texts)
def test_number_and_form_give_the_digits_that_were_entered(written_as: tuple[str, str]) -> None:
    """As stored: whole parts per billion and the places, or the text where the number cannot hold it."""
    qualifier, text = written_as
    value_ppb, _ = to_whole(text, 7)
    places = len(text.partition(".")[2])
    kept = text if Decimal(text).scaleb(7) != value_ppb or places > 7 else None
    assert amount_of(value_ppb, qualifier, places, kept) == Amount(qualifier, Decimal(text), text)


@settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(texts, min_size=1, max_size=8))
def test_digits_come_out_of_the_record_as_entered(store: str, values: list[tuple[str, str]]) -> None:
    elements = ["C", "Si", "Mn", "P", "S", "Cr", "Mo", "Ni"]
    chem = {e: Amount(q, Decimal(t), t) for e, (q, t) in zip(elements, values, strict=False)}
    with written(store) as work:
        heat = work.next_key("heat", "heat_id")
        make_heat(work, f"H{heat}")
        make_analysis(work, make_sample(work, heat, f"H{heat}-T1"), chem)
        work.commit()
    assert chemistry(store, heat).composition() == chem
