"""Job folders: what is written reads back; each fault is one sentence with its place."""

import datetime as dt
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from saltglaze.errors import InputError
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Clock, DraftedBy, Evidence, Facts, Feature, Finding
from saltglaze.model.ground import (
    FixKind,
    GroundLevel,
    KnownMain,
    Locate,
    Mark,
    Offset,
    Origin,
    OtherUtility,
    Parcel,
    ParcelKind,
    PlanPoint,
    SignalReading,
    Tie,
)
from saltglaze.model.job import History, Job, OwnershipRule, Party, Place, PriorVisit, Service
from saltglaze.model.line import Access, FactSource, FixtureCount, Line, Material, Segment
from saltglaze.model.run import Direction, JetPass, LengthUnit, Run
from saltglaze.store.jobfolder import inspect_job, load_job, new_job, write_job

lengths = st.integers(-4000, 4000).map(lambda tenths: tenths * 0.03048)
points = st.builds(PlanPoint, east_m=lengths, north_m=lengths)
margins = st.integers(1, 100).map(lambda n: n * 0.003048)
estimates = st.builds(Estimate.of, lengths, margins)
names = st.text("abcdefghij ,\"'é", min_size=1, max_size=12).map(lambda s: s.strip() or "x")


@st.composite
def jobs(draw):
    marks = (
        Mark(id="A", name=draw(names), point=draw(points), sd_m=0.03048),
        Mark(id="B", name=draw(names), point=draw(points), ground_level_m=draw(estimates)),
    )
    tied = Locate(id="L1", run_id="r1", time_s=12.5, fix=FixKind.TIES, depth_m=draw(estimates))
    set_out = Locate(
        id="L2",
        fix=FixKind.OFFSET,
        station_m=draw(estimates),
        offset=Offset(from_mark="A", to_mark="B", along_m=3.048, right_m=-1.524, sd_m=0.06096),
    )
    read = Locate(
        id="L3",
        fix=FixKind.GNSS_RTK,
        point=draw(points),
        point_sd_m=0.03048,
        readings=(SignalReading(point=draw(points), signal=12.5, coil="vertical"),),
    )
    found = Finding(
        id="F1",
        draft=Facts(
            feature=Feature.ROOTS,
            kind="fine",
            at_joint=True,
            section_share=Estimate.of(0.25, 0.05),
            clock=Clock(from_h=10.0, to_h=2.0, because="typed", view=Direction.WITH_FLOW),
            remark=draw(names),
        ),
        evidence=Evidence(drafted_by=DraftedBy.TYPED, run_id="r1", typed_in="findings.csv, line 2"),
        station_m=draw(estimates),
    )
    return Job(
        id=draw(names),
        date=dt.date(2026, 5, 14),
        invented=True,
        owner=Party(name=draw(names)),
        place=Place(
            town=draw(names),
            ownership=OwnershipRule(split="property_line", citation=draw(names)),
        ),
        origin=Origin(lon_deg=-73.5, lat_deg=41.25, level_m=30.48),
        line=Line(
            id="L",
            length_m=draw(estimates),
            slope_required=0.02,
            segments=(
                Segment(
                    start_m=Estimate.of(0.0, 0.03048),
                    end_m=draw(estimates),
                    material=Material.CLAY,
                    diameter_m=0.1016,
                    section_length_m=0.6096,
                    source=FactSource.RECORD,
                ),
            ),
            accesses=(Access(name="front", kind="clean-out", station_m=draw(estimates)),),
            fixtures=(FixtureCount(kind="lavatory", count=2),),
        ),
        runs=(
            Run(
                id="r1",
                direction=Direction.WITH_FLOW,
                counter_unit=LengthUnit.FEET,
                start_station_m=draw(estimates),
            ),
        ),
        typed=(found,),
        marks=marks,
        ties=(Tie(mark_id="A", point_id="L1", distance_m=3.048, sd_m=0.03048),),
        locates=(tied, set_out, read),
        levels=(GroundLevel(id="g", point=draw(points), level_m=draw(estimates)),),
        parcels=(
            Parcel(id="P", kind=ParcelKind.PARCEL, owner=draw(names), ring=(draw(points),) * 3),
        ),
        mains=(
            KnownMain(
                id="M", points=(draw(points),) * 2, tap=draw(points), tap_sd_m=0.3048, sd_m=0.6096
            ),
        ),
        utilities=(OtherUtility(id="G", kind="gas", points=(draw(points),) * 2),),
        start_point=draw(points),
        start_point_sd_m=0.03048,
        start_bearing_deg=Estimate.of(90.0, 5.0),
        passes=(JetPass(id="j", pump_pressure_pa=13789514.586, flow_m3_s=7.57e-4, dwell_s=4.0),),
        history=History(
            visits=(PriorVisit(date=dt.date(2025, 5, 1), findings=(found,)),),
            services=(Service(date=dt.date(2024, 1, 2), kind="stoppage", cost=350.0),),
        ),
    )


def differences(one, other, at=""):
    """Yield where dumped records differ; numbers may lose what six digits of text lose."""
    if isinstance(one, dict) and isinstance(other, dict) and one.keys() == other.keys():
        for key in one:
            yield from differences(one[key], other[key], f"{at}.{key}")
    elif isinstance(one, (list, tuple)) and len(one) == len(other):
        for count, pair in enumerate(zip(one, other, strict=True)):
            yield from differences(*pair, f"{at}[{count}]")
    elif isinstance(one, float) and isinstance(other, float):
        if other != pytest.approx(one, rel=1e-5, abs=1e-6):
            yield at, one, other
    elif one != other:
        yield at, one, other


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(jobs(), st.sampled_from(["us", "metric"]))
def test_a_written_job_reads_back_the_same(tmp_path_factory, job, system):
    folder = tmp_path_factory.mktemp("job")
    write_job(job, folder, system)
    assert list(differences(job.model_dump(), load_job(folder).model_dump())) == []


def test_a_new_job_has_no_fault(tmp_path):
    written = new_job(tmp_path / "job")
    job, faults = inspect_job(tmp_path / "job")
    assert (tmp_path / "job" / "job.toml") in written
    assert job is not None
    assert faults == ()


def test_a_second_new_job_leaves_the_first_alone(tmp_path):
    new_job(tmp_path)
    (tmp_path / "job.toml").write_text('id = "mine"\n[line]\nid = "L"\n')
    with pytest.raises(InputError, match="a job here already"):
        new_job(tmp_path)
    assert load_job(tmp_path).id == "mine"


def minimal(folder: Path, extra: str = "") -> Path:
    (folder / "job.toml").write_text(f'id = "J"\n[line]\nid = "L"\n{extra}', encoding="utf-8")
    return folder


def fault(folder: Path) -> str:
    with pytest.raises(InputError) as caught:
        load_job(folder)
    return str(caught.value)


@pytest.mark.parametrize(
    ("extra", "says"),
    [
        ("colour = 3\n", "job.toml, line 4, field line.colour: the field 'colour' is not known"),
        ('length = "12"\n', "has no unit"),
        ('length = "12 psi"\n', "no length"),
        ("length = 12\n", "needs quotes and a unit"),
        ('service = "gas"\n', "field line.service"),
        ("length = \n", "not TOML"),
        ('[[runs]]\nid = "r"\nvideo = "../x.mp4"\n', "leaves the job folder"),
        ('[[runs]]\nid = "r"\nvideo = "/etc/passwd"\n', "leaves the job folder"),
        ('[[runs]]\nid = "r"\nvideo = "none.mp4"\n', "no file 'none.mp4'"),
        ('[[runs]]\nid = "../r"\n', "field runs.0.id"),
        ('[[runs]]\nid = "r"\n[[runs]]\nid = "r"\n', "stands twice"),
    ],
)
def test_a_fault_in_job_toml_is_one_sentence(tmp_path, extra, says):
    text = fault(minimal(tmp_path, extra))
    assert says in text
    assert "\n" not in text


def test_a_link_out_of_the_folder_is_refused(tmp_path):
    (tmp_path / "secret.txt").write_text("[0:01] secret")
    job = tmp_path / "job"
    job.mkdir()
    (job / "talk.txt").symlink_to(tmp_path / "secret.txt")
    minimal(job, '[[runs]]\nid = "r"\nnarration = "talk.txt"\n')
    assert "leaves the job folder" in fault(job)


def test_an_empty_video_is_named(tmp_path):
    (tmp_path / "run.mp4").touch()
    assert "0 bytes" in fault(minimal(tmp_path, '[[runs]]\nid = "r"\nvideo = "run.mp4"\n'))


@pytest.mark.parametrize(
    ("file", "text", "says"),
    [
        ("marks.csv", "id,east_ft\nA,1\n", "the column 'north_ft' is missing"),
        ("marks.csv", "id,east,north_ft\nA,1,1\n", "name it 'east_ft' or 'east_m'"),
        ("marks.csv", "id,east_ft,north_ft\nA,one,1\n", "marks.csv, line 2, column east"),
        ("marks.csv", "id,east_ft,north_ft\nA,nan,1\n", "not finite"),
        ("marks.csv", "id,east_ft,north_ft\nA,1,1\nA,2,2\n", "line 3, column id"),
        ("marks.csv", "id,east_ft,north_ft\nA,1,1,1\n", "4 cells stand under 3 columns"),
        ("marks.csv", "id,east_ft,north_ft,hue\nA,1,1,1\n", "'hue' is not known"),
        ("marks.csv", "id,east_psi,north_ft\nA,1,1\n", "'east_psi' is not known"),
        ("marks.csv", "id,east_ft,east_m,north_ft\nA,1,1,1\n", "stands twice"),
        ("ties.csv", "mark,point,distance_ft\nZ,L1,3\n", "'Z' is not in marks.csv"),
        ("locates.csv", "id,fix\nL1,psychic\n", "expected one of gnss_rtk"),
        ("locates.csv", "id,fix,run\nL1,known,r9\n", "the run 'r9' is not in job.toml"),
        (
            "locates.csv",
            "id,fix,east_ft,north_ft,null_front_ft\nL1,known,0,0,-3\n",
            "line 2, column null_front: '-3' is no distance",
        ),
        (
            "locates.csv",
            "id,fix,east_ft,north_ft,ghost_rear_ft\nL1,known,0,0,0\n",
            "line 2, column ghost_rear: '0' is no distance",
        ),
        ("passes.csv", "id,pressure_psi\nj,-3\n", "below zero"),
        ("passes.csv", "id,date\nj,yesterday\n", "not a date"),
        ("findings.csv", "feature,station_ft\nrots,3\n", "expected one of crack"),
        ("findings.csv", "feature,station_ft,clock_from\nroots,3,14\n", "no clock shows"),
        ("findings.csv", "feature,station_ft,water_percent\nsag,3,140\n", "outside the pipe"),
        ("findings.csv", "feature\nroots\n", "needs a place"),
        ("findings.csv", "id,feature,station_ft\n../x,roots,3\n", "cannot be an id"),
        ("outlines.csv", "id,kind,east_ft,north_ft\nP,parcel,1,1\n", "three corners"),
        ("services.csv", "date,kind\n2024-01-01,party\n", "expected one of stoppage"),
    ],
)
def test_a_fault_in_a_table_names_file_line_and_column(tmp_path, file, text, says):
    (minimal(tmp_path) / file).write_text(text)
    sentence = fault(tmp_path)
    assert file in sentence
    assert says in sentence


def test_a_binary_table_is_refused(tmp_path):
    (minimal(tmp_path) / "marks.csv").write_bytes(b"\x7fELF\0\0\0")
    assert "not a text file" in fault(tmp_path)


def test_every_fault_is_listed_and_the_rest_is_read(tmp_path):
    minimal(tmp_path)
    (tmp_path / "marks.csv").write_text("id,east_ft,north_ft\nA,x,1\n")
    (tmp_path / "passes.csv").write_text("id,pressure_psi\nj,-3\n")
    (tmp_path / "services.csv").write_text("date,kind\n2024-01-01,stoppage\n")
    job, faults = inspect_job(tmp_path)
    assert len(faults) == 2
    assert len(job.history.services) == 1


def test_an_edit_changes_only_the_cells_that_are_filled(tmp_path):
    (minimal(tmp_path) / "findings.csv").write_text(
        "edits,feature,section_percent,by,because\nr-0102-roots,roots,40,T. Vane,looked again\n"
    )
    edit = load_job(tmp_path).edits["r-0102-roots"].edit
    assert edit.fields == ("feature", "section_share")
    assert edit.facts.section_share.value == pytest.approx(0.4)


def test_a_rejection_needs_no_feature(tmp_path):
    (minimal(tmp_path) / "findings.csv").write_text("edits,rejected\nr-0102-roots,yes\n")
    assert load_job(tmp_path).edits["r-0102-roots"].edit.rejected
