"""One file is all of it or nothing: interrupted, sent by two at once, streamed, scattered."""

from __future__ import annotations

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from heattrace.intake.batches.import_file import import_file
from heattrace.store.engine import open_reader
from heattrace.store.ledger import verify_chain
from tests.melt_shop import BY, WIDE, MeltShop, wide_row

LONG = "heat_no,sample_id,sample_kind,taken_at,analysed_at,method,instrument,element,value,unit"
ELEMENTS = ("C", "Si", "Mn", "P", "S", "Cr", "Ni", "Cu", "Al", "Nb", "V", "Ti")


def long_rows(sample: str, heat: str = "41878") -> list[str]:
    about = f"{heat},{sample},mould,2024-04-12T09:10:00+02:00,2024-04-12T09:44:00+02:00,spark-emission,S1"
    return [f"{about},{element},0.01{at % 10},%" for at, element in enumerate(ELEMENTS)]


def long_file(melt_shop: MeltShop, samples: int, name: str = "long.csv", *, first: int = 0) -> Path:
    rows = [row for number in range(first, first + samples) for row in long_rows(f"T{number}")]
    return melt_shop.write(name, "\n".join([LONG, *rows]) + "\n")


def test_an_interruption_in_the_middle_leaves_nothing(melt_shop: MeltShop) -> None:
    path = long_file(melt_shop, 1200)
    before = melt_shop.all_counts()
    seen: list[int] = []

    def interrupted(done: int, expected: int | None) -> None:
        seen.append(done)
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        import_file(melt_shop.db, path, "lab-long", by=BY, progress=interrupted)
    assert 0 < seen[0] < 1200 * len(ELEMENTS)
    assert melt_shop.all_counts() == before
    assert import_file(melt_shop.db, path, "lab-long", by=BY).rows["taken"] == 1200 * len(ELEMENTS)


def test_a_large_row_a_result_file_is_streamed_and_kept_whole(melt_shop: MeltShop) -> None:
    told: list[tuple[int, int | None]] = []
    path = long_file(melt_shop, 1200)
    assert path.stat().st_size > 1 << 20
    answer = import_file(melt_shop.db, path, "lab-long", by=BY, progress=lambda *step: told.append(step))
    assert answer.rows["taken"] == 14_400
    assert len(told) > 1
    assert told[-1][0] == 14_400
    assert told[0][1] is not None
    assert abs(told[0][1] - 14_400) < 1_500
    assert melt_shop.scalar("SELECT count(*) FROM result") == 14_400
    keys = melt_shop.rows("SELECT min(row_no), max(row_no) FROM analysis")
    assert keys == [(2, 14_390)]


def test_a_streamed_file_whose_rows_stand_apart_is_read_as_a_whole(melt_shop: MeltShop) -> None:
    rows = [row for number in range(1200) for row in long_rows(f"T{number}")]
    apart = [*rows[::2], *rows[1::2]]
    path = melt_shop.write("apart.csv", "\n".join([LONG, *apart]) + "\n")
    answer = import_file(melt_shop.db, path, "lab-long", by=BY)
    assert answer.rows["taken"] == 14_400
    assert melt_shop.scalar("SELECT count(*) FROM analysis") == 1200


def test_two_files_at_once_both_land(melt_shop: MeltShop) -> None:
    paths = [long_file(melt_shop, 300, f"{n}.csv", first=300 * n) for n in range(2)]
    with ThreadPoolExecutor(2) as both:
        answers = list(both.map(lambda path: import_file(melt_shop.db, path, "lab-long", by=BY), paths))
    assert sorted(str(answer.batch) for answer in answers) == ["I-3", "I-4"]
    assert melt_shop.scalar("SELECT count(*) FROM analysis") == 600
    with open_reader(melt_shop.db) as reader:
        assert verify_chain(reader).broken_at is None


def test_two_programs_at_once_both_land(melt_shop: MeltShop) -> None:
    paths = [long_file(melt_shop, 300, f"{n}.csv", first=300 * n) for n in range(2)]
    command = [sys.executable, "-m", "heattrace", "import"]
    options = ["--profile", "lab-long", "--by", BY, "--db", melt_shop.db]
    both = [subprocess.Popen([*command, str(path), *options], stdout=subprocess.DEVNULL) for path in paths]
    assert [program.wait(timeout=120) for program in both] == [0, 0]
    assert melt_shop.scalar("SELECT count(*) FROM analysis") == 600


def test_the_same_file_by_two_at_once_lands_once(melt_shop: MeltShop) -> None:
    path = melt_shop.write("lab.csv", f"{WIDE}\n{wide_row()}\n")
    with ThreadPoolExecutor(2) as both:
        answers = list(both.map(lambda _: import_file(melt_shop.db, path, "lab-wide", by=BY), range(2)))
    assert sorted(answer.state for answer in answers) == ["same", "taken"]
    assert melt_shop.scalar("SELECT count(*) FROM analysis") == 1
