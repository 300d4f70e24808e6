"""Row-a-result files: streamed, gathered whole, and by the general way, they say the same."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import pytest

from heattrace.errors import FileRefused
from heattrace.intake.profiles.shipped import shipped
from heattrace.intake.reading import analysis_file
from heattrace.intake.reading.analysis_file import AnalysisFile
from heattrace.intake.reading.longform import Scattered
from heattrace.intake.reading.opening import open_file
from heattrace.intake.reading.records import AnalysisRecord, BenchFault
from tests.intake.examples import LONG, WIDE, long_row, wide_row, write

VALUES = {"C": "0.1{:02d}", "Mn": "1.4{:02d}", "N": "0.00{:02d}", "S": "<0.0{:02d}", "B": "9{:02d}", "P": "0,0{:02d}"}


@pytest.fixture
def streamed(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(analysis_file, "STREAMED_FROM", 0)
    yield


def lines(analyses: int, elements: tuple[str, ...] = tuple(VALUES), seed: int = 5) -> list[str]:
    chance = random.Random(seed)
    out = []
    for n in range(analyses):
        heat = "" if n % 17 == 3 else f"4{n % 50:04d}"
        unit = "%" if n % 7 else "ppm"
        for element in elements:
            value = VALUES[element].format(chance.randrange(10, 99)) if chance.random() < 0.95 else chance.choice("-*")
            cell = f'"{value}"' if "," in value else value
            out.append(
                long_row(element, cell, unit, heat, f"S{n}", f"2026-04-{1 + n % 28:02d}T10:{n % 60:02d}:00+02:00")
            )
    return out


def said(analyses: list[AnalysisRecord], bench: list[BenchFault]) -> tuple[object, object]:
    return (
        sorted(
            (a.sample_id.normal, a.rows, sorted((e, x.shown()) for e, x in a.results.items()), a.units)
            for a in analyses
        ),
        sorted((b.row, b.column or "", b.code, b.message, b.raw) for b in bench),
    )


def test_streamed_and_whole_say_the_same(tmp_path: Path, streamed: None) -> None:
    path = write(tmp_path / "lab.csv", [LONG, *lines(700)])
    file = AnalysisFile(path, shipped("lab-long"))
    assert file.streams
    batches = list(file.batches())
    assert len(batches) > 1
    whole = AnalysisFile(path, shipped("lab-long"), whole=True)
    (one,) = whole.batches()
    analyses = [a for b in batches for a in b.analyses]
    assert said(analyses, [f for b in batches for f in b.bench]) == said(one.analyses, one.bench)
    assert sum(b.read for b in batches) == one.read == 700 * len(VALUES)
    for batch in batches:
        assert batch.read == sum(len(a.rows) for a in batch.analyses) + len(batch.bench) + batch.repeated
    assert {f.sentence() for b in batches for f in b.findings} == {f.sentence() for f in one.findings}
    assert file.places_lost == whole.places_lost


def test_block_way_and_general_way_say_the_same(tmp_path: Path) -> None:
    rows = lines(120)
    quick = open_file(write(tmp_path / "lab.csv", [LONG, *rows]), shipped("lab-long"))
    # An empty burn column takes the file through the general way.
    (tmp_path / "general").mkdir()
    general = open_file(
        write(tmp_path / "general" / "lab.csv", [LONG + ",burn", *[row + "," for row in rows]]), shipped("lab-long")
    )
    assert [(b.row, b.column, b.code, b.message) for b in quick.bench] == [
        (b.row, b.column, b.code, b.message) for b in general.bench
    ]
    assert said(quick.analyses, [])[0] == said(general.analyses, [])[0]
    assert quick.places_lost == general.places_lost


def test_raw_bytes_are_at_hand_while_a_batch_is_worked_on(tmp_path: Path, streamed: None) -> None:
    rows = lines(900, ("C", "Mn"))
    path = write(tmp_path / "lab.csv", [LONG, *rows])
    for batch in AnalysisFile(path, shipped("lab-long")).batches():
        for analysis in batch.analyses:
            for row in analysis.rows:
                assert batch.raw(row) == rows[row - 2].encode()
        for fault in batch.bench:
            assert fault.raw == rows[fault.row - 2].encode()


def test_rows_of_an_analysis_that_stand_apart_are_noticed(tmp_path: Path, streamed: None) -> None:
    path = write(tmp_path / "lab.csv", [LONG, *sorted(lines(300, ("C", "Mn")), key=lambda line: line.split(",")[6])])
    with pytest.raises(Scattered):
        list(AnalysisFile(path, shipped("lab-long")).batches())
    assert len(open_file(path, shipped("lab-long")).analyses) > 250


def test_fault_of_the_whole_file_is_found_at_the_end_of_the_stream(tmp_path: Path, streamed: None) -> None:
    rows = [long_row("C", f'"0,1{n % 90 + 10}"', sample=f"S{n}") for n in range(2000)]
    with pytest.raises(FileRefused) as refused:
        for batch in AnalysisFile(write(tmp_path / "lab.csv", [LONG, *rows]), shipped("lab-long")).batches():
            assert batch.analyses == []
    assert [f.code for f in refused.value.findings] == ["FILE16"]


def test_quotes_and_line_breaks_in_cells_are_read_in_the_stream(tmp_path: Path, streamed: None) -> None:
    rows = [long_row("C", "0.182", sample=f"S{n}") for n in range(700)]
    rows[400] = rows[400].replace("spark-emission", '"spark\nemission"')
    content = AnalysisFile(write(tmp_path / "lab.csv", [LONG, *rows]), shipped("lab-long"))
    analyses = [a for b in content.batches() for a in b.analyses]
    assert len(analyses) == 700
    assert analyses[400].method == "spark\nemission"
    assert analyses[401].rows == [404]
    assert [r for a in analyses for r in a.rows][-1] == 702


def test_cells_in_quotes_say_the_same_and_keep_their_rows_and_bytes(tmp_path: Path, streamed: None) -> None:
    rows = [row for row in lines(300) if '"' not in row]
    quoted = [",".join(f'"{cell}"' for cell in row.split(",")) for row in rows]
    # A line break behind a value moves the rows after it by one.
    at = 901
    quoted[at - 1] = quoted[at - 1].replace('","%"', '\n","%"').replace('","ppm"', '\n","ppm"')
    bare = [a for b in AnalysisFile(write(tmp_path / "b.csv", [LONG, *rows]), shipped("lab-long")).batches()
            for a in b.analyses]  # fmt: skip
    seen: list[AnalysisRecord] = []
    for batch in AnalysisFile(write(tmp_path / "q.csv", [LONG, *quoted]), shipped("lab-long")).batches():
        seen += batch.analyses
        for analysis in batch.analyses:
            for row in analysis.rows:
                index = row - 2 - (row > at + 1)
                assert batch.raw(row) == quoted[index].encode()
    moved = [(a.sample_id, [row + (row > at + 1) for row in a.rows], dict(a.results)) for a in bare]
    assert [(a.sample_id, a.rows, dict(a.results)) for a in seen] == moved


def test_memory_does_not_grow_with_the_file(tmp_path: Path, streamed: None) -> None:
    import tracemalloc

    def peak(analyses: int) -> int:
        path = write(tmp_path / f"{analyses}.csv", [LONG, *lines(analyses, ("C", "Mn", "N"))])
        tracemalloc.start()
        for batch in AnalysisFile(path, shipped("lab-long")).batches():
            assert batch.read >= 0
        top = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return top

    small, large = peak(2_000), peak(12_000)
    assert large < 1.6 * small + 3_000_000


def wide_lines(samples: int) -> list[str]:
    chance = random.Random(9)
    out = []
    for n in range(samples):
        c = chance.choice(["0.182", "0.19", "O.18", '"0,18"', "<0.002", "0", ""])
        out.append(wide_row(f"4{n // 5:04d}", f"S{n}", c, f"2026-04-{1 + n % 28:02d}T10:{n % 60:02d}:00+02:00"))
    return out


def test_row_a_sample_file_streamed_and_whole_say_the_same(tmp_path: Path, streamed: None) -> None:
    path = write(tmp_path / "lab.csv", [WIDE, *wide_lines(1300)])
    file = AnalysisFile(path, shipped("lab-wide"))
    batches = list(file.batches())
    assert file.streams and len(batches) > 2
    whole = open_file(path, shipped("lab-wide"))
    assert said([a for b in batches for a in b.analyses], [f for b in batches for f in b.bench]) == said(
        whole.analyses, whole.bench
    )
    assert sum(b.read for b in batches) == 1300
    assert {f.sentence() for b in batches for f in b.findings} == {f.sentence() for f in whole.findings}


def test_row_a_sample_file_that_repeats_itself_is_gathered_whole(tmp_path: Path, streamed: None) -> None:
    rows = wide_lines(1300)
    path = write(tmp_path / "lab.csv", [WIDE, *rows, rows[7]])
    with pytest.raises(Scattered):
        list(AnalysisFile(path, shipped("lab-wide")).batches())
    assert open_file(path, shipped("lab-wide")).sheets["analyses"].repeated == 1
