"""The command line on real folders: the demo end to end, bad input, and an interrupted run."""

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from saltglaze.model.track import ViewState
from saltglaze.store.record import load_record

PAPERS = ("report.pdf", "report.html", "sheet.svg", "record.json", "exchange/map.geojson")


def saltglaze(*words, **given):
    command = [sys.executable, "-m", "saltglaze", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, check=False, **given)


@pytest.fixture(scope="session")
def demo(tmp_path_factory):
    """The short demo job, filmed and appraised once by the command a person would run."""
    folder = tmp_path_factory.mktemp("demo") / "job"
    done = saltglaze("demo", "--short", folder)
    assert done.returncode == 0, done.stderr
    return folder


@pytest.fixture
def copy(demo, tmp_path):
    folder = tmp_path / "job"
    shutil.copytree(demo, folder)
    return folder


def one_sentence(done):
    assert done.returncode == 2, done.stdout + done.stderr
    (line,) = done.stderr.strip().splitlines()
    assert line.startswith("saltglaze: ")
    assert line.endswith(".")
    return line


def test_help_names_every_command():
    done = saltglaze("--help")
    assert done.returncode == 0
    for command in ("new", "check", "appraise", "demo", "listen", "schema"):
        assert command in done.stdout


def test_the_demo_makes_every_paper(demo):
    for name in PAPERS:
        assert (demo / "out" / name).stat().st_size > 500
    appraisal = load_record(demo / "out" / "record.json")
    assert appraisal.job.invented
    assert len(appraisal.findings) >= 3
    assert appraisal.tracks[0].counter.readings
    assert any(v.state is ViewState.CLEAR for v in appraisal.tracks[0].view)
    assert all((demo / "out" / still.path).exists() for still in appraisal.stills)


def test_a_second_run_need_not_watch_again(copy):
    track = copy / "out" / "tracks" / "run1.json"
    before = track.stat().st_mtime_ns
    assert saltglaze("appraise", copy, "--units", "metric", "--page", "a4").returncode == 0
    assert track.stat().st_mtime_ns == before


def test_an_edit_in_the_table_changes_the_answer(copy):
    first = load_record(copy / "out" / "record.json").findings[0].finding.id
    (copy / "findings.csv").write_text(f"edits,rejected,by\n{first},yes,J. Okonta\n")
    assert saltglaze("appraise", copy).returncode == 0
    again = load_record(copy / "out" / "record.json")
    assert [f.finding.id for f in again.findings if not f.finding.stands] == [first]


def test_a_new_folder_checks_clean_and_says_what_is_missing(tmp_path):
    assert saltglaze("new", tmp_path / "job").returncode == 0
    done = saltglaze("check", tmp_path / "job")
    assert done.returncode == 0
    assert "none  video" in done.stdout
    assert "0 faults" in done.stdout


def test_an_empty_job_is_appraised_and_says_what_it_lacks(tmp_path):
    saltglaze("new", tmp_path / "job")
    done = saltglaze("appraise", tmp_path / "job")
    assert done.returncode == 0, done.stderr
    assert "skipped watching the film: the job names no film" in done.stdout
    assert (tmp_path / "job" / "out" / "report.pdf").exists()


def put(folder, file, data):
    (folder / file).write_bytes(data)


def empty(folder):
    put(folder, "run.mp4", b"")


def garbage(folder):
    put(folder, "run.mp4", os.urandom(20_000))


def words_for_film(folder):
    put(folder, "run.mp4", b"this is not a film\n" * 500)


def headless(folder):
    put(folder, "run.mp4", (folder / "run.mp4").read_bytes()[:300])


def binary_talk(folder):
    put(folder, "narration.vtt", bytes(range(256)) * 40)


def no_talk(folder):
    (folder / "narration.vtt").unlink()


def unknown_field(folder):
    text = (folder / "job.toml").read_text()
    (folder / "job.toml").write_text('colour = "red"\n' + text)


def bare_number(folder):
    text = (folder / "job.toml").read_text()
    (folder / "job.toml").write_text(text.replace('start_station = "', 'start_station = "5" #'))


def way_out(folder):
    text = (folder / "job.toml").read_text()
    (folder / "job.toml").write_text(text.replace("run.mp4", "../../run.mp4"))


def torn_table(folder):
    put(folder, "marks.csv", b'id,east_ft,north_ft\n"A,1,1\n')


def torn_history(folder):
    for path in (folder / "history").iterdir():
        path.write_text('{"date": "2025-')


@pytest.mark.parametrize(
    "spoil",
    [
        empty,
        garbage,
        words_for_film,
        headless,
        binary_talk,
        no_talk,
        unknown_field,
        bare_number,
        way_out,
        torn_table,
        torn_history,
    ],
)
def test_bad_input_is_one_sentence_and_nothing_written_is_lost(copy, spoil):
    record = (copy / "out" / "record.json").read_bytes()
    spoil(copy)
    sentence = one_sentence(saltglaze("appraise", copy))
    assert "Traceback" not in sentence
    assert (copy / "out" / "record.json").read_bytes() == record


def test_a_film_cut_short_gives_what_could_be_read(copy):
    film = copy / "run.mp4"
    data = bytearray(film.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 60_000] = os.urandom(60_000)
    film.write_bytes(data)
    done = saltglaze("appraise", copy)
    assert done.returncode == 0, done.stderr
    assert load_record(copy / "out" / "record.json").tracks[0].counter.readings


def test_a_locate_beyond_the_end_is_named_and_bends_nothing(copy):
    rows = (copy / "locates.csv").read_text().splitlines()
    header = rows[0].split(",")
    values = dict(zip(header, rows[1].split(","), strict=False))
    values |= {"id": "FAR", "counter_ft": "400", "film_time_s": "", "note": ""}
    far = ",".join(values.get(name, "") for name in header)
    (copy / "locates.csv").write_text("\n".join([*rows, far]) + "\n")
    done = saltglaze("appraise", copy)
    assert done.returncode == 0, done.stderr
    position = load_record(copy / "out" / "record.json").position
    named = [c for c in position.checks if "FAR" in c.about + c.reason]
    named += [c for c in position.conflicts if "FAR" in c.item]
    assert named


def test_wrong_words_for_options_are_refused(copy):
    assert "us or metric" in one_sentence(saltglaze("appraise", copy, "--units", "cubits"))
    assert "letter or a4" in one_sentence(saltglaze("appraise", copy, "--page", "poster"))


def wait_until_watching(running):
    """Wait until the run has its film open: a busy machine is slow to get there."""
    files = Path(f"/proc/{running.pid}/fd")
    for _ in range(600):
        if running.poll() is not None or not files.exists():
            return
        if any(one.exists() and one.resolve().suffix == ".mp4" for one in files.iterdir()):
            return
        time.sleep(0.1)


def test_an_interrupted_run_is_told_and_goes_on(copy):
    record = (copy / "out" / "record.json").read_bytes()
    command = [sys.executable, "-m", "saltglaze", "appraise", str(copy), "--watch-again"]
    running = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    wait_until_watching(running)
    running.send_signal(signal.SIGINT)
    _, told = running.communicate(timeout=120)
    assert running.returncode == 130
    assert "run it again to go on" in told
    assert (copy / "out" / "record.json").read_bytes() == record
    assert not list(Path(copy / "out").glob(".*"))
    assert saltglaze("appraise", copy).returncode == 0


LOADING_IS_INTERRUPTED = """
import os, signal, time
from saltglaze import cli

def app():
    try:
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(60)
    except KeyboardInterrupt:
        raise ImportError("initialization failed")

cli.app = app
cli.main()
"""


def test_an_interrupt_while_a_compiled_module_loads_is_an_interrupt():
    """Compiled modules that are interrupted while they load raise ImportError instead."""
    command = [sys.executable, "-c", LOADING_IS_INTERRUPTED]
    done = subprocess.run(command, check=False, capture_output=True, text=True)
    assert done.returncode == 130
    assert "run it again to go on" in done.stderr
    assert "Traceback" not in done.stderr


def test_listen_prints_findings_and_json(demo):
    plain = saltglaze("listen", demo / "narration.vtt")
    assert plain.returncode == 0
    assert "findings" in plain.stdout
    assert '"findings"' in saltglaze("listen", demo / "narration.vtt", "--json").stdout


def test_a_job_that_is_not_there_is_said_to_be_missing(tmp_path):
    assert "no such folder" in one_sentence(saltglaze("appraise", tmp_path / "nowhere"))


def test_the_demo_does_not_overwrite_a_job_of_ones_own(tmp_path):
    saltglaze("new", tmp_path / "mine")
    assert "not the demo" in one_sentence(saltglaze("demo", tmp_path / "mine"))
