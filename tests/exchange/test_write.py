"""All files of an appraisal together: which are written, which taken away."""

import appraisals as made
import pytest
from exchange_kit import without_origin

from saltglaze.exchange.write import write_exchange
from saltglaze.model.run import Run

ALWAYS = {"findings.csv", "en13508-2.txt"}
MAPS = {"plan.dxf", "map.geojson", "map.kml", "map.gpkg"}


def names(appraisal, out):
    written = write_exchange(appraisal, out)
    assert all(path.stat().st_size for path in written)
    return {path.name for path in written}


def test_a_full_job_has_every_file(tmp_path):
    assert names(made.rich(), tmp_path) == ALWAYS | MAPS | {"run-1-chapters.vtt"}


def test_a_job_with_nothing_in_it_still_has_its_tables(tmp_path):
    assert names(made.bare(), tmp_path) == ALWAYS


def test_a_line_with_no_plan_keeps_the_map_of_its_ground(tmp_path):
    assert names(made.strip_only(), tmp_path) >= ALWAYS | MAPS


def test_what_no_longer_holds_is_taken_away_and_a_strangers_file_stays(tmp_path):
    write_exchange(made.rich(), tmp_path)
    own = tmp_path / "exchange/notes.txt"
    own.write_text("mine")
    write_exchange(without_origin(made.rich()), tmp_path)
    left = {path.name for path in (tmp_path / "exchange").iterdir()}
    assert left == ALWAYS | {"plan.dxf", "map.gpkg", "run-1-chapters.vtt", "notes.txt"}


@pytest.mark.parametrize("name", ["../../out", "/etc/x", "a" * 5000, "..", "ריצה"])
def test_a_runs_name_never_leads_out_of_the_folder(tmp_path, name):
    rich = made.rich()
    job = rich.job.model_copy(update={"runs": (Run(id=name),)})
    for path in write_exchange(rich.model_copy(update={"job": job}), tmp_path / "out"):
        assert path.resolve().parent == (tmp_path / "out/exchange").resolve()
        assert path.is_file()
