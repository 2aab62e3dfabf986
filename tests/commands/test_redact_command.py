"""``saltglaze redact``: what lands in the copy's folder, and where it may not land."""

import re

import pytest

from saltglaze.appraise import appraise
from saltglaze.commands.redact import redact_record
from saltglaze.demo.scenario import demo_job
from saltglaze.errors import InputError
from saltglaze.store.record import load_record, save_record

NAMES = ("Thistlewood", "Ferrule", "Brindlewick", "Okonta", "555-0142", "555-0117")


@pytest.fixture(scope="module")
def jobdir(tmp_path_factory):
    folder = tmp_path_factory.mktemp("job")
    save_record(appraise(demo_job()), folder / "out")
    return folder


def test_no_file_of_the_copy_names_anyone(jobdir, tmp_path):
    redact_record(jobdir, tmp_path / "copy", "us", "letter")
    files = [path for path in (tmp_path / "copy").rglob("*") if path.is_file()]
    names = {path.name for path in files}
    assert {"record.json", "report.pdf", "report.html", "findings.csv", "plan.dxf"} <= names
    assert not names & {"map.geojson", "map.kml", "dig-sheets.pdf", "records-letter.pdf"}
    told = [
        (path.name, name)
        for path in files
        for name in NAMES
        if re.search(name.encode(), path.read_bytes(), re.IGNORECASE)
    ]
    assert told == []
    assert load_record(tmp_path / "copy/record.json").job.id == "redacted"


def test_the_pdf_names_no_one(jobdir, tmp_path):
    import pypdfium2

    redact_record(jobdir, tmp_path / "copy", "metric", "a4")
    for path in (tmp_path / "copy").glob("*.pdf"):
        document = pypdfium2.PdfDocument(path)
        text = "\n".join(page.get_textpage().get_text_range() for page in document)
        assert len(text) > 50
        assert [name for name in NAMES if name in text] == []
        assert [name for name in NAMES if name in str(document.get_metadata_dict())] == []
        document.close()


def test_the_copy_may_not_lie_among_the_papers(jobdir):
    with pytest.raises(InputError, match="among the papers"):
        redact_record(jobdir, jobdir / "out/copy", "us", "letter")


def test_what_is_there_is_not_overwritten(jobdir, tmp_path):
    (tmp_path / "mine.txt").write_text("x")
    with pytest.raises(InputError, match="something here already"):
        redact_record(jobdir, tmp_path, "us", "letter")


def test_without_a_record_there_is_nothing_to_copy(tmp_path):
    with pytest.raises(InputError, match="no record yet"):
        redact_record(tmp_path, tmp_path / "copy", "us", "letter")
